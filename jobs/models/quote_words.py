"""What a quote says beside its lines: of one that was sent, as it was then."""

from dataclasses import asdict, dataclass

from .letters import LetterSettings
from .quotes import Quote, QuoteState
from .studios import Studio

WORDS = "words"


@dataclass(frozen=True, slots=True)
class QuoteWords:
    """Texts with a point a line, and the currency of its figures."""

    included: str
    not_included: str
    safety: str
    currency: str

    @classmethod
    def now(cls) -> "QuoteWords":
        """What a quote that is sent now says."""
        words = LetterSettings.current()
        return cls(words.included, words.not_included, words.safety, Studio.current().currency)

    @classmethod
    def of(cls, quote: Quote) -> "QuoteWords":
        """Frozen with a version that was sent; those that hold now for a draft, and for what was sent before words were
        frozen."""
        kept = (quote.frozen or {}).get(WORDS)
        return cls(**kept) if kept and quote.state != QuoteState.DRAFT else cls.now()

    def as_json(self) -> dict[str, str]:
        return asdict(self)
