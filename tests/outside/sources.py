"""Where the outside values come from; each is listed once at the end of the page."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Source:
    """``short`` stands in the tables; ``full`` in the list of sources, empty where there is nothing to list."""

    short: str
    full: str = ""
    place: str = ""

    def at(self, place: str) -> Source:
        """The same source at a paragraph, page or table."""
        return replace(self, place=place)

    def __str__(self) -> str:
        return f"{self.short}, {self.place}" if self.place else self.short


DERIVED = Source(
    "by derivation",
    "first-order theory or an exact solution of equation (1) of physics.md: the source is the mathematics, and scipy "
    "or mpmath (Bessel functions, quadrature, integration in time by DOP853) supplies the number.",
)
PRACTICE = Source("common practice", "a rule of the trade without a single source: a band, never a value.")
MEMORY = Source("from memory", "a textbook figure that was not looked up: a band, never a value.")
TEXTBOOK = Source(
    "textbook", "a result found in any textbook of the subject, named beside it; checked as mathematics."
)

KLEINLEIN = Source(
    "Kleinlein 1920",
    "W. J. Kleinlein, *Rules and Practice for Adjusting Watches*, 1920 (public domain, Project Gutenberg 38340).",
)
AIRY = Source(
    "Airy 1830",
    "G. B. Airy, On the disturbances of pendulums and balances, *Trans. Camb. Phil. Soc.* III (1830) 105, read 1826.",
)
BOUASSE = Source("Bouasse 1920", "H. Bouasse, *Pendule, spiral, diapason* II, 1920, pp. 17-25.")
PLAYTNER = Source(
    "Playtner 1910", "H. R. Playtner, *An Analysis of the Lever Escapement*, 1910 (public domain)."
)
KEYSTONE = Source(
    "Keystone 1904",
    "*Watch and Clock Escapements*, The Keystone, 1904 (public domain, Project Gutenberg 17021), looked up: ten "
    "degrees of the lever are a lock of 1½ and an impulse of 8½.",
)
GOUDSMIT = Source(
    "Goudsmit about 1940",
    "S. Goudsmit and co-workers on the flat spiral clamped at both ends, *J. Appl. Phys.*, about 1940, after Haag.",
)
PHILLIPS = Source(
    "Phillips 1861",
    "É. Phillips, on the hairspring and its outer curves, *Annales des mines*, 1861; title from memory.",
)
SHOOTING = Source(
    "shooting",
    "a hairspring's strip followed from the collet by DOP853 at 1e-13, its end brought to the stud by Newton's method; "
    "a second method agreed to 1.5e-13.",
)
SINGH = Source(
    "Singh 2002", "A. Singh, arXiv physics/0206086: decay under constant, linear and quadratic drag."
)
ANDRONOV = Source(
    "Andronov and Vitt",
    "A. A. Andronov, A. A. Vitt and S. E. Khaikin, *Theory of Oscillators*: the clock with dry friction.",
)
JENKIN = Source(
    "Jenkin and Ewing 1877",
    "F. Jenkin and J. A. Ewing, On friction between surfaces moving at low speeds, *Phil. Trans.* 167 (1877) 502; as "
    "Table I in W. T. Lewis, *Friction, Lubrication and the Lubricants in Horology*, 1896.",
)
LEWIS = Source("Lewis 1896", "W. T. Lewis, *Friction, Lubrication and the Lubricants in Horology*, 1896.")
BARREL_TEXTS = Source(
    "worked example", "the half-filled barrel with its numbers as worked in watchmaking texts."
)
ISO_3158 = Source(
    "ISO 3158:1976", "ISO 3158:1976, *Timekeeping instruments: symbolization of control positions*."
)
ISO_3159 = Source(
    "ISO 3159:2009",
    "ISO 3159:2009, *Timekeeping instruments: wrist-chronometers with spring balance oscillator*.",
)
LABORATORY = Source(
    "ISO 3159 as printed",
    "the limits of ISO 3159:2009 as an accredited laboratory prints them, looked up. Which of dial up and 6 up is "
    "taken from the other is printed both ways.",
)
THREE_PHASES = Source(
    "three phases",
    "a model of the detached lever in three phases after S. Komaki's line of theory, horology.sakura.ne.jp, 4-2-3, "
    "looked up; its text starts at 315 deg; the numbers by integration in time.",
)
STEPPED = Source(
    "beat by beat",
    "a design of 4 Hz with a torque that swings, marched beat by beat with another program: amplitude 282.711 deg, "
    "time of relaxation 8.992 s, d ln A/d ln M 0.46531.",
)
HSN = Source(
    "Boettcher",
    "D. Boettcher, notes on temperature effects in watches, *Horological Science Newsletter*, looked up.",
)
WHEEL_TRAIN = Source(
    "watchmaking.se",
    "The wheel train, an instructional page at watchmaking.se, looked up: barrel one turn in 7 hours, escape wheel "
    "one in 5 seconds.",
)
ELLIPTIC = Source(
    "elliptic integral K",
    "M. Abramowitz and I. A. Stegun, 1964, ch. 17: the swing of a cubic spring; K(m) as in the test tables of public "
    "numerical libraries for m = 0.01 and 0.1, and by Gauss's mean for 0.25.",
)
WEAK = Source(
    "published, weak", "figures of Q for wristwatch balances that go round without a measurement beside them."
)
TEN_DAYS = Source(
    "ten daily rates",
    "a wristwatch timed for ten days in the five positions of ISO 3159, with the mean, published by its owner at "
    "g4slv.info, looked up.",
)
CGPM = Source("CGPM 1901", "3rd General Conference on Weights and Measures, 1901: standard acceleration.")
BESSEL = Source(
    "Abramowitz and Stegun 1964",
    "M. Abramowitz and I. A. Stegun, *Handbook of Mathematical Functions*, National Bureau of Standards, 1964.",
    "Table 9.5",
)
REFERENCE = Source(
    "reference numbers",
    "tests/outside/reference: an independent integration of physics.md in time (DOP853, relative tolerance 1e-13, "
    "located events), trusted to 1e-9 deg and 1e-8 s/day.",
)
INTEGRATOR = Source(
    "tests/independent",
    "a second implementation of physics.md beside the tests: plain integration in time (DOP853), no code shared.",
)
