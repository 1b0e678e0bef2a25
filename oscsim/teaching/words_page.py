"""Words of the lesson, English, German and French: the page, its sliders and its foot."""

from __future__ import annotations

from oscsim.teaching.words_works import Row

PAGE: dict[str, Row] = {
    "language": ("en", "de", "fr"),
    "decimal": (".", ",", ","),
    "title": (
        "{name}: what this watch should show",
        "{name}: Was diese Uhr zeigen soll",
        "{name}: ce que cette montre doit montrer",
    ),
    "to_answers": ("To the answers", "Zu den Antworten", "Aux réponses"),
    "lead": (
        "Move a slider: what should this watch show?",
        "Schieber bewegen: Was soll diese Uhr zeigen?",
        "Déplacez un curseur: que doit montrer cette montre?",
    ),
    "colours": ("Colours", "Farben", "Couleurs"),
    "colours_device": ("as the device", "wie das Gerät", "comme l'appareil"),
    "colours_light": ("light", "hell", "clair"),
    "colours_dark": ("dark", "dunkel", "sombre"),
    "about": ("About this watch", "Über diese Uhr", "À propos de cette montre"),
    "no_script": (
        "This page needs JavaScript to answer. It loads nothing from anywhere.",
        "Diese Seite braucht JavaScript, um zu antworten. Sie lädt nichts von anderswo.",
        "Cette page a besoin de JavaScript pour répondre. Elle ne charge rien d'ailleurs.",
    ),
    "change": ("Change the watch", "Die Uhr ändern", "Modifier la montre"),
    "as_designed": ("as designed", "Entwurf", "plan"),
    "reset": ("Back to the design", "Zurück zum Entwurf", "Retour au plan"),
    "reset_said": (
        "Sliders back at the design.",
        "Die Schieber stehen wieder auf dem Entwurf.",
        "Les curseurs sont revenus au plan.",
    ),
    "wound": ("wound", "voll", "à fond"),
    "fully_wound": ("fully wound", "voll aufgezogen", "remontée à fond"),
    "after_a_day": ("after a day", "nach einem Tag", "après un jour"),
    "change_head": ("change", "anders", "écart"),
    "h24": ("24 h", "24 h", "24 h"),
    "amplitude": ("Amplitude", "Amplitude", "Amplitude"),
    "rate_head": ("Rate, s/day", "Gang, s/d", "Marche, s/j"),
    "position": ("Position", "Lage", "Position"),
    "wind": ("Wind", "Aufzug", "Remontage"),
    "amplitude_title": (
        "Amplitude and rate by position",
        "Amplitude und Gang nach Lagen",
        "Amplitude et marche par position",
    ),
    "amplitude_caption": (
        "Amplitude and rate by position, fully wound and after 24 hours",
        "Amplitude und Gang nach Lagen, voll aufgezogen und nach 24 Stunden",
        "Amplitude et marche par position, remontée à fond et après 24 heures",
    ),
    "position_CH": ("dial up", "Zifferblatt oben", "cadran en haut"),
    "position_FH": ("dial down", "Zifferblatt unten", "cadran en bas"),
    "position_12H": ("12 up", "12 oben", "12 en haut"),
    "position_3H": ("3 up", "3 oben", "3 en haut"),
    "position_6H": ("6 up", "6 oben", "6 en haut"),
    "position_9H": ("9 up", "9 oben", "9 en haut"),
    "works_title": ("The escapement at work", "Die Hemmung bei der Arbeit", "L'échappement au travail"),
    "works_look": ("What to look at", "Was man ansieht", "Ce qu'on regarde"),
    "view_whole": ("whole", "ganz", "ensemble"),
    "view_fork": ("pin and fork", "Gabel", "fourchette"),
    "view_pallets": ("pallets", "Paletten", "palettes"),
    "works_label": (
        "Balance, lever and escape wheel in motion; the words below say what happens.",
        "Unruh, Anker und Ankerrad in Bewegung; der Text darunter sagt, was geschieht.",
        "Balancier, ancre et roue d'ancre en mouvement; le texte au-dessous dit ce qui se passe.",
    ),
    "rundown_title": ("Running down", "Ablauf bis zum Stillstand", "Marche jusqu'à l'arrêt"),
    "rundown_note": (
        "Thin grey lines: the design as given. Shaded: the watch knocks.",
        "Dünne graue Linien: der Entwurf. Getönt: Die Uhr prellt.",
        "Traits gris fins: le plan. Zone teintée: la montre rebat.",
    ),
    "energy_title": (
        "Where the energy of a beat goes",
        "Wohin die Energie einer Halbschwingung geht",
        "Où va l'énergie d'une alternance",
    ),
    "energy_key": (
        "In per cent of what the escape wheel is given:",
        "In Prozent dessen, was das Ankerrad erhält:",
        "En pour cent de ce que reçoit la roue d'ancre:",
    ),
    "energy_caption": (
        "Shares of what the escape wheel is given in a beat, fully wound",
        "Anteile dessen, was das Ankerrad in einer Halbschwingung erhält, voll aufgezogen",
        "Parts de ce que reçoit la roue d'ancre en une alternance, remontée à fond",
    ),
    "taken_by": ("Taken by", "Verbraucht von", "Pris par"),
    "map_title": (
        "What the heavy point does to the rate",
        "Was die schwere Stelle am Gang ändert",
        "L'effet du balourd sur la marche",
    ),
    "map_note": (
        "Up: amplitude. Across: where the heavy point stands when the balance is at rest, seen from the "
        "dial. The dots are the four vertical positions, fully wound.",
        "Senkrecht: Amplitude. Waagrecht: wo die schwere Stelle in Ruhelage steht, vom Zifferblatt gesehen. Die "
        "Punkte sind die vier hängenden Lagen, voll aufgezogen.",
        "En hauteur: l'amplitude. En largeur: où se tient le balourd au repos, vu du cadran. Les points sont "
        "les quatre positions verticales, remontée à fond.",
    ),
    "try_title": ("Try this", "Zum Probieren", "À essayer"),
    "try_lead": (
        "Guess first, then look. Each question starts from the design.",
        "Erst raten, dann ansehen. Jede Frage beginnt beim Entwurf.",
        "Devinez d'abord, puis regardez. Chaque question part du plan.",
    ),
    "set_sliders": ("Set the sliders", "Schieber stellen", "Placer les curseurs"),
    "answer": ("Answer", "Antwort", "Réponse"),
    "foot_title": (
        "What stands behind the numbers",
        "Was hinter den Zahlen steht",
        "Ce qu'il y a derrière les nombres",
    ),
    "foot_drawn": (
        "The moving parts are drawn from the motion that the engine computed for a poised balance of this "
        "design, dial up, at seven swings and three locks. Inertia and friction change the timing within the "
        "lift too little to be seen. The energy budget is that of a poised balance at the amplitude shown. "
        "Rates are those of the design file{regulated}; moving a slider does not regulate the watch again.",
        "Die bewegten Teile sind nach der Bewegung gezeichnet, die für eine ausgewuchtete Unruh dieses "
        "Entwurfs berechnet ist, Zifferblatt oben, bei sieben Amplituden und drei Ruhetiefen. Trägheit und "
        "Reibung ändern die Zeiten in der Hebung zu wenig, um es zu sehen. Die Energie ist die einer "
        "ausgewuchteten Unruh bei der gezeigten Amplitude. Gänge sind die der Entwurfsdatei{regulated}; ein "
        "Schieber reguliert die Uhr nicht neu.",
        "Les pièces mobiles sont dessinées d'après le mouvement calculé pour un balancier équilibré de ce "
        "plan, cadran en haut, à sept amplitudes et trois profondeurs de repos. Inertie et frottement changent "
        "trop peu les temps de la levée pour qu'on le voie. Le bilan d'énergie est celui d'un balancier équilibré à "
        "l'amplitude montrée. Les marches sont celles du fichier{regulated}; un curseur ne règle pas la "
        "montre à nouveau.",
    ),
    "regulated": (", regulated", ", reguliert", ", réglée"),
    "as_built": (", as built", ", wie gebaut", ", comme construite"),
    "foot_design": (
        "These are numbers of a design, not of the watch in your hand: take readings, and let them decide.",
        "Das sind Zahlen eines Entwurfs, nicht der Uhr in der Hand: Messen, und die Messung entscheiden "
        "lassen.",
        "Ce sont les nombres d'un plan, non ceux de la montre en main: mesurez, et que la mesure décide.",
    ),
    "foot_bench": ("At the bench:", "Am Werktisch:", "À l'établi:"),
    "foot_caution": (
        "a wound mainspring stores energy. Let it down before you take off the barrel cover, and protect "
        "your eyes. Solvents need ventilation and no flame. Luminous dials and hands of older watches may "
        "contain radium. Local rules and your teacher's word come first.",
        "Eine aufgezogene Zugfeder speichert Energie. Vor dem Öffnen des Federhauses die Feder kontrolliert "
        "abspannen und die Augen schützen. Lösungsmittel brauchen Lüftung und keine Flamme. Leuchtende "
        "Zifferblätter und Zeiger älterer Uhren können Radium enthalten. Die Vorschriften am Ort und die "
        "Anweisungen des Lehrers gehen vor.",
        "un ressort armé emmagasine de l'énergie. Désarmez-le avant d'ôter le couvercle du barillet et "
        "protégez vos yeux. Les solvants demandent de l'aération et aucune flamme. Cadrans et aiguilles "
        "lumineux des montres anciennes peuvent contenir du radium. Les règles locales et les consignes du "
        "maître d'apprentissage priment.",
    ),
    "accuracy": (
        "The numbers on this page lie between points that the engine of oscsim {version} computed for this "
        "design. Held against the engine at {points} random settings, they were off by at most {degrees}° and"
        " {seconds} s/day, from {floor} to {ceiling}°. A swing below {floor}, with the design's lock, counts "
        'as stopped. Within half a degree of the limit the word "knocks" may come late. {remark} Design '
        "{hash}.",
        "Die Zahlen dieser Seite liegen zwischen Punkten, die oscsim {version} für diesen Entwurf berechnet "
        "hat. Bei {points} zufälligen Stellungen der Schieber nachgerechnet, wichen sie um höchstens "
        "{degrees}° und {seconds} s/d ab, von {floor} bis {ceiling}°. Eine Schwingung unter {floor}, mit der "
        "Ruhe des Entwurfs, zählt als Stillstand. Innerhalb eines halben Grads der Grenze kann das Wort "
        "„prellt“ zu spät kommen. {remark} Entwurf {hash}.",
        "Les nombres de cette page se tiennent entre des points qu'oscsim {version} a calculés pour ce plan. "
        "Comparés au calcul à {points} réglages tirés au sort, ils s'en écartent d'au plus {degrees}° et "
        "{seconds} s/j, de {floor} à {ceiling}°. Une oscillation sous {floor}, avec le repos du plan, compte "
        "comme arrêt. À un demi-degré de la limite le mot « rebat » peut venir trop tard. {remark} Plan "
        "{hash}.",
    ),
    "rough": (
        "That is more than a lesson should be off: the page is good for the shape of things, not for its "
        "figures. Ask oscsim settle for those.",
        "Das ist mehr, als für den Unterricht gut ist: Die Seite taugt für den Verlauf, nicht für die Zahlen. "
        "Diese gibt oscsim settle.",
        "C'est trop pour une leçon: la page vaut pour l'allure, non pour les chiffres. "
        "Demandez-les à oscsim settle.",
    ),
    "sprung": (
        "What the hairspring does by position, its weight and its side thrust, is added to first order: at "
        "other frictions than the design's a rate may be off by another second a day.",
        "Was die Spiralfeder nach Lage tut, ihr Gewicht und ihr Seitendruck, ist in erster Ordnung hinzugefügt: "
        "Bei anderer Reibung als im Entwurf kann ein Gang um eine weitere Sekunde am Tag abweichen.",
        "Ce que fait le spiral selon la position, son poids et sa poussée latérale, est ajouté au premier "
        "ordre: à d'autres frottements que ceux du plan une marche peut s'écarter d'une seconde par jour de "
        "plus.",
    ),
    "sketch": (
        "{name} is a sketch: {count} of its numbers came from its family and not from the bench. What stands "
        "here is a first idea and judges no movement. Measure what you can, change it in the file and strike "
        "its name from 'filled' there.",
        "{name} ist eine Skizze: {count} ihrer Zahlen stammen aus ihrer Familie und nicht vom Werktisch. Was "
        "hier steht, ist eine erste Vorstellung und urteilt über kein Werk. Messen, was geht, in der Datei "
        "ändern und den Namen dort aus 'filled' streichen.",
        "{name} est une ébauche de plan: {count} de ses nombres viennent de sa famille et non de l'établi. Ce"
        " qui est ici est une première idée et ne juge aucun mouvement. Mesurez ce que vous pouvez, "
        "changez-le dans le fichier et rayez-y son nom de 'filled'.",
    ),
}

SLIDERS: dict[str, Row] = {
    "slider_torque": ("Mainspring torque", "Federmoment", "Couple du ressort"),
    "slider_inertia": ("Balance inertia", "Unruhträgheit", "Inertie du balancier"),
    "slider_lock": ("Lock depth", "Tiefe der Ruhe", "Profondeur du repos"),
    "slider_jewels": ("Jewels", "Steine", "Rubis"),
    "slider_friction": ("Pivot friction", "Zapfenreibung", "Frottement aux pivots"),
    "slider_unbalance": ("Unbalance", "Unwucht", "Balourd"),
    "slider_heavy": ("Heavy point", "Schwere Stelle", "Place du balourd"),
    "hint_torque": (
        "of the design's, at every hour",
        "des Entwurfs, zu jeder Stunde",
        "de celui du plan, à toute heure",
    ),
    "hint_inertia": (
        "{percent} % of the design's, same beat",
        "{percent} % des Entwurfs, Takt gleich",
        "{percent} % du plan, même cadence",
    ),
    "hint_lock": (
        "lock, as an angle of the lever",
        "Ruhe, als Winkel des Ankers",
        "repos, en angle de l'ancre",
    ),
    "hint_jewels_own": ("holes as in the design", "Lager wie im Entwurf", "trous comme au plan"),
    "hint_jewels": ("jewels up to the {last}", "Steine bis: {last}", "rubis jusqu'à: {last}"),
    "hint_jewels_none": (
        "every hole of the train in brass",
        "alle Lager in Messing",
        "tous les trous en laiton",
    ),
    "hint_friction": (
        "coefficient at the balance pivots",
        "Reibwert an den Unruhzapfen",
        "coefficient aux pivots du balancier",
    ),
    "hint_unbalance": (
        "want of poise: mass times distance",
        "Masse mal Abstand von der Achse",
        "masse fois distance à l'axe",
    ),
    "hint_heavy": (
        "at rest, clockwise from 12 o'clock",
        "in Ruhelage, im Uhrzeigersinn von 12",
        "au repos, sens horaire depuis midi",
    ),
    "hole_escape": ("escape wheel", "Ankerrad", "roue d'ancre"),
    "hole_pallet": ("pallets", "Anker", "ancre"),
    "hole_fourth": ("fourth wheel", "Sekundenrad", "roue de seconde"),
    "hole_third": ("third wheel", "Kleinbodenrad", "roue moyenne"),
    "hole_centre": ("centre wheel", "Minutenrad", "roue de centre"),
    "hole_barrel": ("barrel", "Federhaus", "barillet"),
}
