"""Words of the lesson, English, German and French: the parts, and what they do in a beat."""

from __future__ import annotations

from typing import TypeAlias

#: Languages of the page, in the order of a row.
LANGUAGES = ("en", "de", "fr")
#: A text in each of them: English, German and French.
Row: TypeAlias = tuple[str, str, str]

PARTS: dict[str, Row] = {
    "part_balance": ("balance", "Unruh", "balancier"),
    "part_hairspring": ("hairspring", "Spiralfeder", "spiral"),
    "part_fork": ("fork", "Ankergabel", "fourchette"),
    "part_banking": ("banking", "Begrenzung", "limitation"),
    "part_lever": ("lever", "Anker", "ancre"),
    "part_entry": ("entry stone", "Eingangspalette", "palette d'entrée"),
    "part_exit": ("exit stone", "Ausgangspalette", "palette de sortie"),
    "part_wheel": ("escape wheel", "Ankerrad", "roue d'ancre"),
    "part_escape_wheel": ("escape wheel", "Hemmungsrad", "roue d'échappement"),
    "part_safety": ("safety roller", "Sicherheitsrolle", "petit plateau"),
    "part_roller": ("impulse roller", "Hebelscheibe", "grand plateau"),
    "part_pin": ("impulse pin", "Hebelstein", "cheville de plateau"),
    "part_impulse_pallet": ("impulse pallet", "Hebestein", "palette d'impulsion"),
    "part_unlocking_stone": ("unlocking stone", "Auslösestein", "doigt de dégagement"),
    "part_passing": ("passing spring", "Auslösefeder", "ressort de passage"),
    "part_detent": ("detent", "Wippe", "détente"),
    "part_locking_stone": ("locking stone", "Ruhestein", "palette de repos"),
    "part_finger": ("guard finger", "Sicherheitsmesser", "dard"),
}

CONTROLS: dict[str, Row] = {
    "run": ("Run", "Start", "Lancer"),
    "pause": ("Pause", "Pause", "Pause"),
    "next_phase": ("Next phase", "Nächste Phase", "Phase suivante"),
    "names": ("names", "Namen", "noms"),
    "slower": ("Slower", "Langsamer", "Plus lent"),
    "times_slower": ("{times} times slower", "{times}-mal langsamer", "{times} fois plus lent"),
    "pair_close": ("close", "nah", "de près"),
    "pair_lever": ("{name}, lever: {swing}°", "{name}, Anker: {swing}°", "{name}, ancre: {swing}°"),
    "pair_detent": (
        "{name}, detent: {left}° and {right}°",
        "{name}, Wippe: {left}° und {right}°",
        "{name}, détente: {left}° et {right}°",
    ),
}

PHASES: dict[str, Row] = {
    "phase_free_in": ("free arc in", "absteigender Ergänzungsbogen", "arc supplémentaire descendant"),
    "phase_free_in_words": (
        "The balance swings towards the lever on its own. The lever rests on a banking; a tooth is locked.",
        "Die Unruh schwingt frei auf den Anker zu. Der Anker liegt an einer Begrenzung, ein Zahn liegt auf "
        "Ruhe.",
        "Le balancier revient librement vers l'ancre. L'ancre est appuyée sur une limitation, une dent est au "
        "repos.",
    ),
    "phase_unlocking": ("unlocking", "Auslösung", "dégagement"),
    "phase_unlocking_words": (
        "The impulse pin pushes the fork. The stone slides off its lock, and draw makes the wheel turn back "
        "a little.",
        "Der Hebelstein nimmt die Gabel mit. Die Palette gleitet aus der Ruhe, und wegen des Anzugs dreht sich "
        "das Rad ein wenig zurück.",
        "La cheville pousse la fourchette. La palette quitte son repos et, à cause du tirage, la roue recule un "
        "peu.",
    ),
    "phase_catch_up": ("catch-up", "Nachlaufen", "rattrapage"),
    "phase_catch_up_words": (
        "The tooth is free, but the wheel has to start from rest while the balance turns on: some of the lift"
        " is lost.",
        "Der Zahn ist frei, doch das Rad muss aus der Ruhe anlaufen, während die Unruh weiterdreht: Ein Teil "
        "der Hebung geht verloren.",
        "La dent est libre, mais la roue doit partir du repos pendant que le balancier continue: une part de "
        "la levée est perdue.",
    ),
    "phase_shake": ("run through the shake", "Weg durch das Gabelspiel", "passage de l'ébat"),
    "phase_shake_words": (
        "Tooth and stone have met. The fork runs through its play until its other wall reaches the pin.",
        "Der Zahn hat die Palette erreicht. Die Gabel durchläuft ihr Spiel, bis ihre andere Wand den "
        "Hebelstein erreicht.",
        "Dent et palette se sont rencontrées. La fourchette parcourt son ébat jusqu'à ce que son autre paroi "
        "atteigne la cheville.",
    ),
    "phase_impulse": ("impulse", "Hebung (Impuls)", "impulsion"),
    "phase_impulse_words": (
        "The tooth slides along the stone's impulse face and drives the lever; the fork drives the balance.",
        "Der Zahn gleitet über die Hebefläche der Palette und treibt den Anker; die Gabel treibt die Unruh.",
        "La dent glisse sur le plan d'impulsion de la palette et pousse l'ancre; la fourchette pousse le "
        "balancier.",
    ),
    "phase_free_out": ("free arc out", "aufsteigender Ergänzungsbogen", "arc supplémentaire ascendant"),
    "phase_free_out_words": (
        "The tooth has dropped, another is locked, the lever lies on the other banking. The balance swings on"
        " its own.",
        "Der Zahn ist abgefallen, ein anderer liegt auf Ruhe, der Anker an der anderen Begrenzung. Die Unruh "
        "schwingt frei.",
        "La dent a chuté, une autre est au repos, l'ancre est sur l'autre limitation. Le balancier s'éloigne "
        "librement.",
    ),
    "phase_rest": ("at rest", "Stillstand", "à l'arrêt"),
    "phase_rest_words": (
        "Nothing moves; the train presses a tooth against a stone.",
        "Nichts bewegt sich; das Räderwerk drückt einen Zahn gegen eine Palette.",
        "Rien ne bouge; le rouage presse une dent contre une palette.",
    ),
    "detent_free-arc-in": ("free arc in", "absteigender Ergänzungsbogen", "arc supplémentaire descendant"),
    "detent_unlocking": (
        "unlocking: the stone on the roller lifts the detent from the tooth",
        "Auslösung: Der Auslösestein hebt die Wippe vom Zahn",
        "dégagement: le doigt du plateau lève la détente de la dent",
    ),
    "detent_detent-carried": (
        "the tooth is free, the detent is carried on",
        "der Zahn ist frei, die Wippe wird weiter mitgenommen",
        "la dent est libre, la détente est encore levée",
    ),
    "detent_run-to-the-catch": (
        "the wheel runs after the impulse pallet",
        "das Rad läuft dem Hebestein nach",
        "la roue rattrape la palette d'impulsion",
    ),
    "detent_impulse": (
        "impulse: the tooth drives the balance itself",
        "Impuls: Der Zahn treibt die Unruh selbst",
        "impulsion: la dent pousse elle-même le balancier",
    ),
    "detent_free-arc-out": ("free arc out", "aufsteigender Ergänzungsbogen", "arc supplémentaire ascendant"),
    "detent_passing-spring": (
        "dead beat: only the passing spring gives way",
        "Rückschwung ohne Impuls: nur die Auslösefeder gibt nach",
        "coup perdu: seul le ressort de passage cède",
    ),
    "at_work_entry": ("at the entry stone", "an der Eingangspalette", "à la palette d'entrée"),
    "at_work_exit": ("at the exit stone", "an der Ausgangspalette", "à la palette de sortie"),
}
