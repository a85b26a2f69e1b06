"""Pages from templates; every value in them is escaped."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from jinja2 import Environment

#: The pages in the order of their use: address, name.
PAGES: Final = (
    ("/job", "Job"),
    ("/weather", "Weather"),
    ("/plan", "Plan"),
    ("/what-if", "What if"),
    ("/tension", "Tension"),
)


@cache
def _templates() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("planner.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page(template: str, **values: Any) -> str:
    """Fill in a template.

    Parameters
    ----------
    template : str
        Its file name.
    **values : object
        What it speaks of.

    Returns
    -------
    str
        HTML.
    """
    return _templates().get_template(template).render(pages=PAGES, **values)


def words_page(message: str, fix: str = "", *, link: tuple[str, str] | None = None) -> str:
    """Say one thing on a page of its own.

    Parameters
    ----------
    message, fix : str
        What is wrong, and what to do about it.
    link : tuple of str, optional
        An address that helps, and its name.

    Returns
    -------
    str
        HTML.
    """
    return page("words.html", here="", title=message, message=message, fix=fix, link=link)


def moved_on(path: str) -> str:
    """Give a page that goes on to another at once, as if it had been opened from here."""
    return page("moved_on.html", path=path)
