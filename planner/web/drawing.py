"""One picture at a time: the drawing library's settings are shared by all threads."""

from __future__ import annotations

import threading
from typing import Final

DRAWING: Final = threading.Lock()
