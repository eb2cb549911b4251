"""Watching: whatever a run follows from is looked at again and again, and prepared when it changes.

What counts is how the files stand (`sight`), told by their signs and never by news of them: news
(`bell`) only say when to look. So nothing is lost where the system loses news.
"""

from headrace.batch.watching.answer import Answer
from headrace.batch.watching.bell import Bell
from headrace.batch.watching.sight import Given
from headrace.batch.watching.watch import Watch

__all__ = ["Answer", "Bell", "Given", "Watch"]
