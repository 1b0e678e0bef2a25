"""Words of the lesson, English, German and French: questions to apprentices, and their answers."""

from __future__ import annotations

from oscsim.teaching.words_works import Row

#: Questions, each named for the slider that matters, but for the node.
QUESTIONS = ("lock", "jewels", "friction", "torque", "node", "inertia")

ASKED: dict[str, Row] = {
    "ask_lock": ("Deeper lock", "Tiefere Ruhe", "Repos plus profond"),
    "ask_lock_words": (
        "A stone has been moved out: the lock is a degree deeper. What amplitude does it cost?",
        "Eine Palette ist herausgeschoben: Die Ruhe ist ein Grad tiefer. Was kostet das an Amplitude?",
        "Une palette a été sortie: le repos est plus profond d'un degré. Combien d'amplitude cela coûte-t-il?",
    ),
    "ask_jewels": ("Fewer jewels", "Weniger Steine", "Moins de rubis"),
    "ask_jewels_words": (
        "The same watch with the fewest jewels. Is it ill, or is it meant to be so?",
        "Dieselbe Uhr mit den wenigsten Steinen. Ist sie krank, oder soll sie so sein?",
        "La même montre avec le moins de rubis. Est-elle malade, ou est-elle ainsi voulue?",
    ),
    "ask_friction": ("Dry balance pivots", "Trockene Unruhzapfen", "Pivots de balancier secs"),
    "ask_friction_words": (
        "The pivots rub twice as much. In which positions do you see it?",
        "Die Zapfen reiben doppelt so stark. In welchen Lagen sieht man es?",
        "Les pivots frottent deux fois plus. Dans quelles positions le voit-on?",
    ),
    "ask_torque": ("A tired mainspring", "Eine müde Zugfeder", "Un ressort fatigué"),
    "ask_torque_words": (
        "Three tenths of the torque are gone. Which positions lose? Is the run shorter?",
        "Drei Zehntel des Federmoments sind fort. In welchen Lagen fällt die Amplitude? Läuft die Uhr kürzer?",
        "Trois dixièmes du couple sont perdus. Dans quelles positions l'amplitude baisse-t-elle? La montre "
        "marche-t-elle moins longtemps?",
    ),
    "ask_node": ("Where poise hides", "Wo sich die Unwucht versteckt", "Où se cache le balourd"),
    "ask_node_words": (
        "The balance is badly out of poise. Move the torque until all upright positions rate alike. At what "
        "amplitude is that?",
        "Die Unruh hat eine starke Unwucht. Das Federmoment ändern, bis alle hängenden Lagen gleich gehen. "
        "Bei welcher Amplitude ist das?",
        "Le balancier a un fort balourd. Changez le couple jusqu'à ce que toutes les positions verticales "
        "aient la même marche. À quelle amplitude est-ce?",
    ),
    "ask_inertia": ("A heavier balance", "Eine schwerere Unruh", "Un balancier plus lourd"),
    "ask_inertia_words": (
        "The balance has two fifths more inertia. What does it cost, and why might a maker want it?",
        "Die Unruh hat zwei Fünftel mehr Trägheit. Was kostet das, und warum will man es vielleicht?",
        "Le balancier a deux cinquièmes d'inertie de plus. Qu'est-ce que cela coûte, et pourquoi le vouloir?",
    ),
    "set_first": (
        "Set the sliders first, then look.",
        "Erst die Schieber stellen, dann ansehen.",
        "Placez d'abord les curseurs, puis regardez.",
    ),
    "set_said": (
        "Sliders set for the question.",
        "Die Schieber stehen für die Frage.",
        "Les curseurs sont placés pour la question.",
    ),
    "not_in_table": ("no longer in the table", "nicht mehr in der Tabelle", "hors de la table"),
    "unchanged": ("unchanged", "unverändert", "inchangé"),
    "both": (
        "dial up {flat}, 12 up {upright}",
        "Zifferblatt oben {flat}, 12 oben {upright}",
        "cadran en haut {flat}, 12 en haut {upright}",
    ),
    "told_lock": (
        "A lock deeper by {deeper}°: {both}. Unlocking takes {now} of what the escape wheel is given instead "
        "of {given}, and the balance has to give it in every beat.",
        "Eine um {deeper}° tiefere Ruhe: {both}. Die Auslösung nimmt {now} dessen, was das Ankerrad erhält, "
        "statt {given}, und die Unruh muss es bei jeder Halbschwingung geben.",
        "Un repos plus profond de {deeper}°: {both}. Le dégagement prend {now} de ce que reçoit la roue "
        "d'ancre au lieu de {given}, et le balancier doit le donner à chaque alternance.",
    ),
    "told_jewels": (
        "With {jewels} jewels: {both}. Brass holes rub more, so less torque reaches the escape wheel. A watch"
        " of few jewels is meant to show less; it is not ill.",
        "Mit {jewels} Steinen: {both}. Messinglager reiben mehr, also erreicht weniger Moment das Ankerrad. "
        "Eine Uhr mit wenigen Steinen soll weniger zeigen; krank ist sie nicht.",
        "Avec {jewels} rubis: {both}. Les trous de laiton frottent plus, moins de couple arrive à la roue "
        "d'ancre. Une montre de peu de rubis doit montrer moins; elle n'est pas malade.",
    ),
    "told_friction": (
        "Twice the friction: {both}. Lying flat the balance turns on the ends of its pivots, upright on their"
        " sides, with far more leverage. Low in the vertical positions and sound when flat points at the "
        "balance pivots.",
        "Doppelte Reibung: {both}. Liegend dreht die Unruh auf den Enden ihrer Zapfen, hängend auf deren "
        "Mantelflächen, mit weit größerem Hebelarm. Eine tiefe Amplitude in den hängenden Lagen und eine gesunde "
        "in den liegenden weist auf die Unruhzapfen.",
        "Deux fois le frottement: {both}. À plat, le balancier tourne sur le bout de ses pivots; en position "
        "verticale, sur leurs flancs, avec un bien plus grand bras de levier. Une amplitude basse en vertical "
        "et saine à plat désigne les pivots du balancier.",
    ),
    "told_torque": (
        "With {torque} % of the torque: {both}. All positions lose together, and the amplitude falls less "
        "than the torque, because a smaller swing also loses less. The barrel still makes its turns, so the "
        "run changes little: dial up from {before} to {after}.",
        "Mit {torque} % des Federmoments: {both}. Die Amplitude fällt in allen Lagen zugleich, und weniger als das "
        "Moment, weil eine kleinere Schwingung auch weniger verliert. Das Federhaus macht noch seine "
        "Umgänge, also ändert sich die Laufzeit wenig: Zifferblatt oben von {before} auf {after}.",
        "Avec {torque} % du couple: {both}. L'amplitude baisse dans toutes les positions à la fois, et moins que le "
        "couple, car une moindre oscillation perd aussi moins. Le barillet fait toujours ses tours, la durée de "
        "marche change peu: cadran en haut de {before} à {after}.",
    ),
    "told_node": (
        "Near {node}° the four vertical positions agree, however bad the poise. Below it the position with "
        "the heavy point underneath gains, above it that position loses. So poise is tried well below it, at "
        "about 150°.",
        "Nahe {node}° stimmen die vier hängenden Lagen überein, wie groß die Unwucht auch ist. Darunter geht "
        "die Lage mit der schweren Stelle unten vor, darüber geht sie nach. Darum prüft man die Unwucht weit "
        "darunter, bei etwa 150°.",
        "Près de {node}° les quatre positions verticales s'accordent, quel que soit le balourd. Au-dessous "
        "la position au balourd en bas avance, au-dessus elle retarde. On cherche donc l'équilibre bien plus "
        "bas, vers 150°.",
    ),
    "told_node_none": (
        "No node lies within the table.",
        "In der Tabelle liegt kein Knoten.",
        "Aucun nœud ne se trouve dans la table.",
    ),
    "told_inertia": (
        "A balance heavier by {more} % on a matched hairspring: {both}. It stores more energy in the same "
        "swing, loses more in proportion, and is the harder to disturb.",
        "Eine Unruh mit {more} % mehr Trägheit und passender Spiralfeder: {both}. Sie speichert in derselben "
        "Schwingung mehr Energie, verliert im selben Maß mehr und ist schwerer zu stören.",
        "Un balancier de {more} % d'inertie en plus, avec spiral assorti: {both}. Il emmagasine plus d'énergie dans "
        "la même oscillation, en perd plus à proportion, et se laisse moins troubler.",
    ),
}
