"""The two markers of the hooks, with nothing else here."""

import pluggy

PROJECT = "headrace"

hookspec: pluggy.HookspecMarker = pluggy.HookspecMarker(PROJECT)
hookimpl: pluggy.HookimplMarker = pluggy.HookimplMarker(PROJECT)
