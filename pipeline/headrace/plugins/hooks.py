"""The two markers of the hooks, with nothing else here."""

import pluggy

PROJECT = "headrace"

hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)
