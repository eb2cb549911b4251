// What a person sees of a page, as plain values: an object of functions, evaluated where it is asked.
// Lengths are CSS pixels unless they are said to be mm of paper.
(() => {
  const canvas = document.createElement("canvas").getContext("2d", {willReadFrequently: true});

  // A computed colour as [red, green, blue (0..255), alpha (0..1)].
  function colour(text) {
    const found = /^rgba?\(([^)]+)\)$/.exec(text);
    if (found) {
      const [r, g, b, a = 1] = found[1].split(/[\s,/]+/).map(Number);
      return [r, g, b, a];
    }
    canvas.clearRect(0, 0, 1, 1);
    canvas.fillStyle = text;
    canvas.fillRect(0, 0, 1, 1);
    const [r, g, b, a] = canvas.getImageData(0, 0, 1, 1).data;
    return [r, g, b, a / 255];
  }

  // One colour over an opaque one (Porter and Duff's "over").
  function over(top, below) {
    return [0, 1, 2].map((at) => top[at] * top[3] + below[at] * (1 - top[3])).concat(1);
  }

  function shown(element) {
    return element.checkVisibility({opacityProperty: true, visibilityProperty: true});
  }

  // Whether an element is there for screen readers alone: clipped to a dot, or out of the page.
  function aside(element) {
    for (let at = element; at && at !== document.body; at = at.parentElement) {
      const style = getComputedStyle(at);
      const box = at.getBoundingClientRect();
      const hides = style.overflowX !== "visible" || style.clipPath !== "none";
      if (hides && (box.width <= 1.5 || box.height <= 1.5)) return true;
    }
    const box = element.getBoundingClientRect();
    return box.right + scrollX <= 0 || box.bottom + scrollY <= 0;
  }

  function dimmed(element) {
    let opacity = 1;
    for (let at = element; at; at = at.parentElement) opacity *= Number(getComputedStyle(at).opacity);
    return opacity;
  }

  function faded(text, element, of = 1) {
    const [r, g, b, a] = colour(text);
    return [r, g, b, a * of * dimmed(element)];
  }

  // The page's own ground, behind all elements.
  function paper() {
    const patch = document.createElement("div");
    patch.style.color = "Canvas";
    document.body.append(patch);
    const found = colour(getComputedStyle(patch).color);
    patch.remove();
    return found;
  }

  // What lies behind an element: grounds of all that it stands in.
  function ground(element, base) {
    const layers = [];
    for (let at = element; at; at = at.parentElement) {
      if (at instanceof HTMLElement || at.tagName === "svg") {
        layers.push(faded(getComputedStyle(at).backgroundColor, at));
      }
    }
    return layers.reverse().reduce((below, layer) => over(layer, below), base);
  }

  const DEFINED = "defs, clipPath, mask, pattern, marker, symbol";

  function drawn(svg) {
    return [...svg.querySelectorAll("path, line, rect, circle, ellipse, polyline, polygon")].filter(
      (shape) => !shape.closest(DEFINED) && shown(shape));
  }

  // What lies behind a place of a drawing (client px): all shapes that are painted before `until`.
  function behind(svg, x, y, until, base) {
    let found = ground(svg, base);
    for (const shape of drawn(svg)) {
      if (!(until.compareDocumentPosition(shape) & Node.DOCUMENT_POSITION_PRECEDING)) continue;
      const style = getComputedStyle(shape);
      const at = new DOMPoint(x, y).matrixTransform(shape.getScreenCTM().inverse());
      if (style.fill !== "none" && !style.fill.startsWith("url") && shape.isPointInFill(at)) {
        found = over(faded(style.fill, shape, Number(style.fillOpacity)), found);
      }
      if (style.stroke !== "none" && !style.stroke.startsWith("url") && shape.isPointInStroke(at)) {
        found = over(faded(style.stroke, shape, Number(style.strokeOpacity)), found);
      }
    }
    return found;
  }

  function named(element) {
    const id = element.id ? `#${element.id}` : "";
    const classes = element.getAttribute("class");
    return `${element.tagName.toLowerCase()}${id}${classes ? "." + classes.trim().replace(/\s+/g, ".") : ""}`;
  }

  function box(found) {
    return [found.left + scrollX, found.top + scrollY, found.right + scrollX, found.bottom + scrollY];
  }

  // How many px of the screen are 1 mm of paper in a drawing.
  function scale(shape) {
    const found = shape.getScreenCTM();
    return Math.sqrt(Math.abs(found.a * found.d - found.b * found.c));
  }

  function* textNodes() {
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const node = walker.currentNode;
      const element = node.parentElement;
      if (!node.data.trim() || element.closest("script, style, template, noscript")) continue;
      if (element.closest("svg") && !element.closest("text")) continue;  // title and desc
      if (!shown(element)) continue;
      const range = document.createRange();
      range.selectNodeContents(node);
      const rects = [...range.getClientRects()].filter((rect) => rect.width > 0 && rect.height > 0);
      if (rects.length) yield {node, element, rects};
    }
  }

  return {
    // Every piece of text: its colour, what lies behind it, its size.
    texts() {
      const base = paper();
      return [...textNodes()].filter(({element}) => !aside(element)).map(({node, element, rects}) => {
        const style = getComputedStyle(element);
        const svg = element.closest("svg");
        let under;
        if (svg) {
          const halo = style.paintOrder.startsWith("stroke") && style.stroke !== "none";
          const rect = rects[0];
          under = behind(svg, (rect.left + rect.right) / 2, (rect.top + rect.bottom) / 2, element, base);
          if (halo) under = over(faded(style.stroke, element, Number(style.strokeOpacity)), under);
        } else {
          under = ground(element, base);
        }
        const ink = svg ? faded(style.fill, element, Number(style.fillOpacity)) : faded(style.color, element);
        return {
          text: node.data.trim().replace(/\s+/g, " ").slice(0, 80),
          where: named(element),
          ink: over(ink, under).slice(0, 3),
          ground: under.slice(0, 3),
          size: parseFloat(style.fontSize) * (svg ? scale(element) : 1),
          drawn: Boolean(svg),
        };
      });
    },

    // Every line of every drawing: its classes, colour on the drawing's ground, dash, width in mm.
    lines() {
      const base = paper();
      return [...document.querySelectorAll("svg")].flatMap((svg) => drawn(svg).flatMap((shape) => {
        const style = getComputedStyle(shape);
        if (style.stroke === "none" || style.stroke.startsWith("url")) return [];
        if (!parseFloat(style.strokeWidth)) return [];
        const under = ground(svg, base);
        const fixed = style.vectorEffect === "non-scaling-stroke";
        return [{
          where: named(shape),
          group: named(shape.parentElement),
          ink: over(faded(style.stroke, shape, Number(style.strokeOpacity)), under).slice(0, 3),
          ground: under.slice(0, 3),
          dash: style.strokeDasharray,
          cap: style.strokeLinecap,
          width: fixed ? parseFloat(style.strokeWidth) * 25.4 / 96
                       : parseFloat(style.strokeWidth) * scale(shape) / scale(svg),
        }];
      }));
    },

    // The boxes of all words of each drawing, in px.
    labels() {
      return [...document.querySelectorAll("svg")].filter(shown).map((svg) => ({
        where: named(svg),
        frame: box(svg.getBoundingClientRect()),
        texts: [...svg.querySelectorAll("text")].filter((text) => shown(text) && text.textContent.trim())
          .map((text) => ({text: text.textContent, box: box(text.getBoundingClientRect())})),
      }));
    },

    // The boxes of all lines of text outside drawings, with the element each stands in.
    rows() {
      return [...textNodes()].filter(({element}) => !element.closest("svg") && !aside(element))
        .flatMap(({node, element, rects}) => rects.map((rect) => (
          {text: node.data.trim().slice(0, 60), where: named(element), box: box(rect)})));
    },

    // How far the page can be moved sideways.
    sideways() {
      const root = document.scrollingElement;
      return root.scrollWidth - root.clientWidth;
    },

    // Text that cannot be seen whole: cut by what it stands in, or beyond the page without a way there.
    cut() {
      const found = [];
      for (const {node, element, rects} of textNodes()) {
        if (aside(element)) continue;
        const right = Math.max(...rects.map((rect) => rect.right));
        const bottom = Math.max(...rects.map((rect) => rect.bottom));
        let scrolls = false;
        for (let at = element; at; at = at.parentElement) {
          const style = getComputedStyle(at);
          const frame = at.getBoundingClientRect();
          const hides = (overflow) => overflow === "hidden" || overflow === "clip";
          if (style.overflowX === "auto" || style.overflowX === "scroll") scrolls = true;
          if (at === document.documentElement || at === document.body) continue;
          if (at instanceof SVGElement && at.tagName !== "svg") continue;
          if (!scrolls && hides(style.overflowX) && right > frame.right + 1
              || hides(style.overflowY) && bottom > frame.bottom + 1) {
            found.push({text: node.data.trim().slice(0, 60), where: named(element), by: named(at)});
            break;
          }
        }
        if (!scrolls && right + scrollX > document.documentElement.clientWidth + 1) {
          found.push({text: node.data.trim().slice(0, 60), where: named(element), by: "the page"});
        }
      }
      return found;
    },

    // Everything to press, type into or drag, with the box that answers (its label's included).
    targets() {
      const some = "a[href], button, input, select, textarea, summary, [tabindex]:not([tabindex='-1'])";
      return [...document.querySelectorAll(some)].filter((element) => shown(element) && !aside(element))
        .map((element) => {
          const boxes = [element, ...(element.labels ?? [])].map((one) => one.getBoundingClientRect());
          return {
            where: named(element),
            inline: element.matches("p a, li a, td a, dd a"),
            width: Math.max(...boxes.map((one) => one.right)) - Math.min(...boxes.map((one) => one.left)),
            height: Math.max(...boxes.map((one) => one.bottom)) - Math.min(...boxes.map((one) => one.top)),
          };
        });
    },

    // How many things the Tab key is to reach, each with a number that `focus` gives back.
    reachable() {
      const some = "a[href], button, input, select, textarea, summary, [tabindex]";
      return [...document.querySelectorAll(some)].filter((element) => (
        element.tabIndex >= 0 && !element.disabled && shown(element))).map(named);
    },

    // What has the focus, and how that shows.
    focus() {
      const element = document.activeElement;
      if (!element || element === document.body) return null;
      const style = getComputedStyle(element);
      const base = paper();
      const outside = ground(element.parentElement ?? element, base);
      const rect = element.getBoundingClientRect();
      return {
        where: named(element),
        number: [...document.querySelectorAll("*")].indexOf(element),
        outline: style.outlineStyle === "none" ? 0 : parseFloat(style.outlineWidth),
        ink: over(faded(style.outlineColor, element), outside).slice(0, 3),
        ground: outside.slice(0, 3),
        visible: rect.bottom > 0 && rect.top < innerHeight && rect.right > 0 && rect.left < innerWidth,
      };
    },

    // Short words that are torn over two lines or more.
    torn(most = 14) {
      const found = [];
      for (const {node, element} of textNodes()) {
        if (element.closest("svg") || aside(element)) continue;
        for (const word of node.data.matchAll(/[\p{L}\p{N}.]+/gu)) {
          if (word[0].length > most) continue;
          const range = document.createRange();
          range.setStart(node, word.index);
          range.setEnd(node, word.index + word[0].length);
          const tops = new Set([...range.getClientRects()].filter((one) => one.width > 0)
            .map((one) => Math.round(one.top)));
          if (tops.size > 1) found.push(`${word[0]} in ${named(element)}: ${node.data.trim().slice(0, 40)}`);
        }
      }
      return found;
    },

    // The text of all headings that shows, in the order of the page.
    headings() {
      const found = new Map();
      for (const {node, element} of textNodes()) {
        const heading = element.closest("h1, h2, h3, h4, h5, h6");
        if (heading && !aside(element)) found.set(heading, (found.get(heading) ?? "") + node.data);
      }
      return [...found].map(([heading, text]) => [
        Number(heading.tagName[1]), text.replace(/\s+/g, " ").trim()]);
    },

    // Whatever moves or fades by itself or when something changes.
    animated() {
      return [...document.querySelectorAll("*")].flatMap((element) => {
        const style = getComputedStyle(element);
        const times = `${style.transitionDuration},${style.animationDuration}`;
        const longest = Math.max(...times.split(",").map(parseFloat));
        return longest > 0.01 || style.scrollBehavior === "smooth" ? [named(element)] : [];
      });
    },
  };
})()
