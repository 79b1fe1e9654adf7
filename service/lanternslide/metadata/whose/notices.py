"""The words of a notice that name nobody: what a photographer's name stands among. Common practice, no source.

All are in lower case and without accents. A new language needs its words here; until then its notices are doubts.
"""

from __future__ import annotations

import re

__all__ = ["COMPANIONS", "FORBIDDING", "LEGAL", "NAMELESS", "PHRASES", "TRADES"]

MONTHS = (
    "january|february|march|april|may|june|july|august|september|october|november|december|jan|feb|mar|apr|jun|jul|aug"
    "|sept?|oct|nov|dec|januar|februar|marz|mai|juni|juli|oktober|dezember|janvier|fevrier|mars|avril|juin|juillet|aout"
    "|septembre|octobre|novembre|decembre"
)
DAYS = "monday|tuesday|wednesday|thursday|friday|saturday|sunday"

PHRASES = re.compile(
    rf"\b(?:{DAYS}),? (?=[0-9])|\b(?:{MONTHS})\.?,? (?=[0-9])"
    # Directly behind a sign of copyright two digits are a year, and what follows may be a first name.
    rf"|(?<![0-9'’])(?<!\(c\))(?<!\(c\) )(?<!copyright )[0-9]{{1,2}}\.? (?:{MONTHS})\b"
    rf"|(?<=[0-9])(?:st|nd|rd|th) (?:{MONTHS})\b"
    r"|\bexpress(?:ed)? (?:written|permission|consent)\b|\beditorial use\b|\bprior (?:written|permission|consent)\b"
    r"|\bcopyright laws?\b|\bby law\b|\beditorial only\b|\bcredit line\b|\byou (?=may\b)|\bdo not crop\b"
    r"|\bbild(?:er)?\s*:|\bmay (?:not|be)\b|(?<=[0-9])(?:st|nd|rd|th)\b|'s\b|’s\b|\be[. ]?k\.|\b(?:dr|mr|mrs|ms)\.? "
    r"|\balla rattigheter forbehallna\b|\bkaikki oikeudet pidatetaan\b|\bwszelkie prawa zastrzezone\b"
    r"|\breservados todos los derechos\b|\btodos os direitos\b"
    r"|\ball rights (?:are )?reserved\b|\balle rechte vorbehalten\b|\balle rechten voorbehouden\b"
    r"|\btous (?:les )?droits reserves\b|\btutti i diritti (?:sono )?riservati\b"
    r"|\btodos (?:los derechos|os direitos) reservados\b|\bвсе права защищены\b"
    r"|\b(?:photo|image|picture|photograph|photographed|photography|foto|bild|bilder)s? (?:by|von|par|por|di|da|door)\b"
    r"|\bjede nutzung\b|\bnur mit\b|\bnicht ohne\b|\baucune? (?:utilisation|reproduction) sans\b|\bfine art\b"
    r"|\bvg bild[- ]kunst\b(?:,? bonn\b)?|\bbildrecht\b(?:,? wien\b)?|\bown work\b"
    r"|\bmade in\b|\bcourtesy of\b|\bproperty of\b"
    r"|\btaken by\b|\bn/a\b|\(c\)|\bcopyright\b|\bcopr\b|\bфото\b|\bфотограф\b"
    r"|版權所有|版权所有|攝影|摄影|著作権|撮影|写真|無断転載禁止"
)
"""Phrases of a notice that name nobody, without accents."""


def _those(words: str) -> frozenset[str]:
    return frozenset(words.split())


NAMELESS = _those("""
    anonymous artist author autor auteur by c camera credit date default digital dsc false foto fotograf fotografo given
    holder image inconnu me my myself name no none not notice of original own owner photo photograph photographe
    photographer picture self specified standard the true unbekannt unknown untitled user work year yes your
""")
"""Words that name nobody, where there are no others."""

FORBIDDING = _those("""
    autorisation authorisation authorization consent copied copying download einwilligung erlaubnis forbidden
    genehmigung geschutzt honorarpflichtig interdite kopieren licensing nutzung permission permitted prohibited
    protected reproduce reproduced reproduction royalties unauthorised unauthorized untersagt usage verboten
    vervielfaltigung zustimmung
""")
"""Those that say more than whose a picture is, and nobody's name."""

LEGAL = NAMELESS | FORBIDDING | _those("""
    all and any be copy distribution for from in is keine licence license must nicht non nur oder ohne only or part
    publication published required requires reserved rights strictly this to toute und use used with without worldwide
    written you
""")  # fmt: skip
"""Words of a notice that only forbids."""

COMPANIONS = (LEGAL - {"nur", "you"}) | _those("""
    a ab afiap agency ai are arps arr as at atelier belegexemplar belongs bildagentur commercial contact
    copyrighted created do e edition editorial email erbeten express fotodesign fotografia fotografie fotografien
    fotografin fotos frau gallery gegen gmbh held her his honorar i images inc international ist it its landscape law
    laws licensed limited llc ltd made mail makers managed medium nature our per phone photographers photographic
    photographie photographies photographs photography photos pictures please print prior protects remains right
    schriftliche schriftlicher so studio studios taken tdm tel telephone their training urheber urheberin
    urheberrechtlich veroffentlichung via video vorherige vorheriger web
""")  # fmt: skip
"""Words that make no other name of one that stands beside them."""

TRADES = frozenset(word for word in COMPANIONS if len(word) > 3) | _those("""
    art bild bilder creative film films fineart media official photoart portraits prints visuals weddings
""")  # fmt: skip
"""What stands behind a name in an address that is that name's."""
