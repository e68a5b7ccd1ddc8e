"""The forms that a customer's paper can be written in, and the paper in each as bytes."""

from __future__ import annotations

from enum import StrEnum

from studio.papers.model import QuotePaper


class PaperForm(StrEnum):
    """How a paper is written."""

    TEXT = "text"
    MARKDOWN = "markdown"
    HTML = "html"
    PDF = "pdf"

    @property
    def ending(self) -> str:
        """The ending of its files."""
        return _ENDINGS[self]


_ENDINGS = {
    PaperForm.TEXT: ".txt",
    PaperForm.MARKDOWN: ".md",
    PaperForm.HTML: ".html",
    PaperForm.PDF: ".pdf",
}


def formed(paper: QuotePaper, form: PaperForm) -> bytes:
    """The paper in one form; text is UTF-8. What a form needs is read in only for it."""
    match form:
        case PaperForm.MARKDOWN:
            from studio.papers.markdown import to_markdown

            return to_markdown(paper).encode()
        case PaperForm.HTML:
            from studio.papers.page import to_page

            return to_page(paper).encode()
        case PaperForm.PDF:
            from studio.papers.pdf import to_pdf

            return bytes(to_pdf(paper))
        case PaperForm.TEXT:
            from studio.papers.text import to_text

            return to_text(paper).encode()
