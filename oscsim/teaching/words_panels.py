"""Words of the lesson, English, German and French: its panels."""

from __future__ import annotations

from oscsim.teaching.words_works import Row

CHOICE: dict[str, Row] = {
    "choice_title": (
        "Two makers, one movement",
        "Zwei Uhrmacher, ein Werk",
        "Deux horlogers, un mouvement",
    ),
    "choice_lead": (
        "One maker chases amplitude, the other years. Choose as they would, and look at both faces.",
        "Der eine sucht Amplitude, der andere Jahre ohne Revision. Wählen wie sie, und beide Seiten ansehen.",
        "L'un cherche l'amplitude, l'autre les années sans révision. Choisissez comme eux et regardez les deux "
        "côtés.",
    ),
    "choice_mainspring": ("Mainspring", "Zugfeder", "Ressort"),
    "choice_lock": ("Lock", "Ruhe", "Repos"),
    "choice_balance": ("Balance", "Unruh", "Balancier"),
    "choice_strength": ("strength {share} %", "Stärke {share} %", "force {share} %"),
    "choice_deeper": ("deeper by {angle}°", "tiefer um {angle}°", "plus profond de {angle}°"),
    "choice_shallower": ("shallower by {angle}°", "flacher um {angle}°", "moins profond de {angle}°"),
    "choice_inertia": ("inertia {share} %", "Trägheit {share} %", "inertie {share} %"),
    "choice_design": ("design", "Entwurf", "plan"),
    "choice_yours": ("your choice", "gewählt", "votre choix"),
    "choice_unit": ("unit", "Einheit", "unité"),
    "choice_face": ("face", "Seite", "côté"),
    "better": ("better", "besser", "mieux"),
    "worse": ("worse", "schlechter", "moins bon"),
    "never": ("never", "nie", "jamais"),
    "measure_amplitude_flat": (
        "amplitude dial up, wound",
        "Amplitude Zifferblatt oben, aufgezogen",
        "amplitude cadran en haut, remontée",
    ),
    "measure_amplitude_vertical": (
        "amplitude 12 up, wound",
        "Amplitude 12 oben, aufgezogen",
        "amplitude 12 en haut, remontée",
    ),
    "measure_amplitude_vertical_24h": (
        "amplitude 12 up after a day",
        "Amplitude 12 oben nach einem Tag",
        "amplitude 12 en haut après un jour",
    ),
    "measure_years_to_180": (
        "years until 180 deg, 12 up after a day",
        "Jahre bis 180°, 12 oben nach einem Tag",
        "années jusqu'à 180°, 12 en haut après un jour",
    ),
    "measure_lock_energy": (
        "energy of a jolt that unlocks",
        "Energie eines Stoßes, der die Ruhe löst",
        "énergie d'un choc qui dégage l'ancre",
    ),
    "measure_friction_work": (
        "friction at stones, fork, balance pivots",
        "Reibung an Paletten, Gabel, Unruhzapfen",
        "frottement aux palettes, fourchette, pivots",
    ),
    "measure_escape_torque": (
        "torque on the escape wheel, wound",
        "Drehmoment am Ankerrad, aufgezogen",
        "couple à la roue d'ancre, remontée",
    ),
    "measure_strip_stress": (
        "strip's stress at the arbor over its limit",
        "Spannung am Federkern / Streckgrenze",
        "contrainte à la bonde / limite élastique",
    ),
    "unit_deg": ("deg", "°", "°"),
    "unit_years": ("years", "Jahre", "ans"),
    "unit_J/year": ("J/year", "J/Jahr", "J/an"),
    "weighed_stops": (
        "So made it would not run.",
        "So gebaut liefe sie nicht.",
        "Ainsi faite, elle ne marcherait pas.",
    ),
    "weighed_own": (
        "This is the design as given.",
        "Das ist der Entwurf selbst.",
        "C'est le plan tel quel.",
    ),
    "weighed": (
        "Against the design: {told}.",
        "Gegenüber dem Entwurf: {told}.",
        "Par rapport au plan: {told}.",
    ),
    "weighed_more": (
        "{degrees}° more with 12 up, fully wound",
        "{degrees}° mehr mit 12 oben, voll aufgezogen",
        "{degrees}° de plus, 12 en haut, remontée à fond",
    ),
    "weighed_less": (
        "{degrees}° less with 12 up, fully wound",
        "{degrees}° weniger mit 12 oben, voll aufgezogen",
        "{degrees}° de moins, 12 en haut, remontée à fond",
    ),
    "weighed_years_more": (
        "{years} years more until it shows {limit}° then",
        "{years} Jahre mehr, bis sie {limit}° zeigt",
        "{years} ans de plus jusqu'à {limit}°",
    ),
    "weighed_years_less": (
        "{years} years fewer until it shows {limit}° then",
        "{years} Jahre weniger, bis sie {limit}° zeigt",
        "{years} ans de moins jusqu'à {limit}°",
    ),
    "weighed_lock_more": (
        "a lock that takes {share} % more of a jolt",
        "eine Ruhe, die {share} % mehr vom Stoß verträgt",
        "un repos qui supporte {share} % de plus d'un choc",
    ),
    "weighed_lock_less": (
        "a lock that takes {share} % less of a jolt",
        "eine Ruhe, die {share} % weniger vom Stoß verträgt",
        "un repos qui supporte {share} % de moins d'un choc",
    ),
    "weighed_rubbed_more": (
        "{share} % more rubbed away in a year",
        "{share} % mehr Reibarbeit im Jahr",
        "{share} % de travail de frottement en plus par an",
    ),
    "weighed_rubbed_less": (
        "{share} % less rubbed away in a year",
        "{share} % weniger Reibarbeit im Jahr",
        "{share} % de travail de frottement en moins par an",
    ),
}

DAY: dict[str, Row] = {
    "day_title": ("A week on the wrist", "Eine Woche am Handgelenk", "Une semaine au poignet"),
    "day_lead_hand": (
        "The same watch, wound by hand when it is put on, beside its bare run-down: a watch that winds "
        "quickly seldom shows its steep half.",
        "Dieselbe Uhr, beim Anlegen von Hand aufgezogen, neben ihrem bloßen Ablauf: Eine Uhr, die rasch "
        "aufgezogen ist, zeigt selten den steilen Teil ihres Ablaufs.",
        "La même montre, remontée à la main quand on la met, à côté de sa marche sans remontage: une montre "
        "vite remontée parcourt rarement la fin raide de sa courbe.",
    ),
    "day_lead_worn": (
        "The same watch, wound by wearing, beside its bare run-down: a watch that winds quickly seldom shows "
        "its steep half.",
        "Dieselbe Uhr, durch Tragen aufgezogen, neben ihrem bloßen Ablauf: Eine Uhr, die schnell aufzieht, "
        "zeigt selten den steilen Teil ihres Ablaufs.",
        "La même montre, remontée par le porter, à côté de sa marche sans remontage: une montre vite "
        "remontée parcourt rarement la fin raide de sa courbe.",
    ),
    "day_left": (
        "left alone, dial up",
        "liegen gelassen, Zifferblatt oben",
        "laissée seule, cadran en haut",
    ),
    "day_with": ("with its wearer", "am Handgelenk", "avec son porteur"),
    "day_worn": ("Worn", "Getragen", "Portée"),
    "day_hours": ("{hours} h a day", "{hours} h am Tag", "{hours} h par jour"),
    "day_life": ("Wearer's life", "Tragweise", "Activité du porteur"),
    "life_desk": ("desk", "am Schreibtisch", "bureau"),
    "life_usual": ("usual", "gewöhnlich", "ordinaire"),
    "life_active": ("active", "aktiv", "active"),
    "day_stands": (
        "Worn {hours} h a day, it stands {share} % of the time.",
        "{hours} h am Tag getragen, steht sie {share} % der Zeit.",
        "Portée {hours} h par jour, elle est arrêtée {share} % du temps.",
    ),
    "day_least": (
        "Worn {hours} h a day, in the morning it shows at least {least}°.",
        "{hours} h am Tag getragen, zeigt sie morgens mindestens {least}°.",
        "Portée {hours} h par jour, elle a le matin au moins {least}° d'amplitude.",
    ),
    "day_even": (
        "It breaks even at {hours} h a day.",
        "Bei {hours} h am Tag hält es sich die Waage.",
        "L'équilibre est à {hours} h par jour.",
    ),
    "days": ("days", "Tage", "jours"),
    "amplitude_deg": ("amplitude, deg", "Amplitude, Grad", "amplitude, degrés"),
    "only_amplitude": ("amplitude", "Amplitude", "amplitude"),
}

COIL: dict[str, Row] = {
    "coil_title": ("The coil breathes", "Die Spiralfeder atmet", "Le spiral respire"),
    "coil_lead": (
        "Seen from the dial, drawn from the solution: at rest, unwound and wound up by 270°. A flat coil "
        "goes to one side, and which one depends on where it is pinned.",
        "Vom Zifferblatt gesehen, nach der Rechnung gezeichnet: in Ruhe, um 270° geöffnet und um 270° "
        "verengt. Eine flache Spirale weicht nach einer Seite aus; nach welcher, hängt davon ab, wo sie "
        "angesteckt ist.",
        "Vu du côté cadran, dessiné d'après le calcul: au repos, ouvert puis fermé de 270°. Un spiral plat se "
        "décentre d'un côté; lequel, cela dépend de l'endroit où il est goupillé.",
    ),
    "coil_pinned": ("Pinned at", "Angesteckt bei", "Goupillé à"),
    "coil_whole": ("whole turns", "ganzen Umgängen", "tours entiers"),
    "coil_half": ("half a turn more", "einem halben Umgang mehr", "un demi-tour de plus"),
    "coil_quarter": ("a quarter turn more", "einem Viertelumgang mehr", "un quart de tour de plus"),
    "coil_curve": (
        "whole turns, outer curve",
        "ganzen Umgängen mit Endkurve",
        "tours entiers, courbe terminale",
    ),
    "coil_rest": ("at rest", "in Ruhe", "au repos"),
    "coil_unwound": ("unwound, {angle}", "geöffnet, {angle}", "ouvert, {angle}"),
    "coil_wound": ("wound up, {angle}", "verengt, {angle}", "fermé, {angle}"),
    "coil_line": ("rate by the shape, s/day", "Gang durch die Form, s/d", "marche due à la forme, s/j"),
    "coil_words": (
        "With {name} the rate changes by {change} s/day from 220° to 280° by the shape.",
        "Mit {name} ändert sich der Gang von 220° bis 280° durch die Form um {change} s/d.",
        "Pour {name}, la forme change la marche de {change} s/j entre 220° et 280°.",
    ),
    "coil_escapement": (
        "The escapement alone changes it by {change} s/day over the same swings.",
        "Die Hemmung allein ändert ihn in diesem Bereich um {change} s/d.",
        "L'échappement seul la change de {change} s/j dans le même intervalle.",
    ),
    "coil_up": (
        "rate less that at 270°, s/day",
        "Gang gegenüber dem bei 270°, s/d",
        "marche, écart à celle de 270°, s/j",
    ),
    "coil_label": (
        "The coil seen from the dial",
        "Die Spirale vom Zifferblatt gesehen",
        "Le spiral vu du cadran",
    ),
    "chart_label": ("{up} over {across}", "{up} über {across}", "{up} selon {across}"),
}

BREATHING: dict[str, Row] = {
    "breathing_title": ("Which wheel is it?", "Welches Rad ist es?", "Quelle roue est-ce?"),
    "breathing_lead": (
        "Bend a pivot, or let a hand rub, and watch the amplitude for a quarter of an hour, dial up, fully "
        "wound.",
        "Einen Zapfen verbiegen oder einen Zeiger streifen lassen, und die Amplitude eine Viertelstunde lang "
        "ansehen, Zifferblatt oben, voll aufgezogen.",
        "Faussez un pivot ou laissez frotter une aiguille, et observez l'amplitude un quart d'heure, cadran "
        "en haut, remontée à fond.",
    ),
    "breathing_fault": ("Fault", "Fehler", "Défaut"),
    "breathing_none": ("none", "keiner", "aucun"),
    "breathing_option": (
        "{wheel}, 3 % of torque",
        "{wheel}, 3 % des Drehmoments",
        "{wheel}, 3 % du couple",
    ),
    "wheel_second_hand": ("second hand", "Sekundenzeiger", "aiguille des secondes"),
    "wheel_fourth": ("fourth", "Sekundenrad", "roue de seconde"),
    "wheel_third": ("third", "Kleinbodenrad", "roue moyenne"),
    "wheel_centre": ("centre", "Minutenrad", "roue de centre"),
    "breathing_sound": (
        "Sound wheels: only the teeth are felt.",
        "Räder in Ordnung: Nur die Verzahnung ist zu spüren.",
        "Roues saines: on ne voit que la denture.",
    ),
    "breathing_words": (
        "3 % of torque at the {wheel}: {swing}° up and down every {period}. The period names the wheel.",
        "3 % des Drehmoments, {wheel}: {swing}° auf und ab alle {period}. Die Periode verrät das Rad.",
        "3 % du couple, {wheel}: {swing}° en plus et en moins toutes les {period}. La période désigne la roue.",
    ),
    "breathing_across": ("minutes", "Minuten", "minutes"),
}

ESCAPEMENTS: dict[str, Row] = {
    "escapements_title": ("Lever and detent", "Anker und Wippe", "Ancre et détente"),
    "escapements_lead": (
        "The lever works twice a period, the detent gives one impulse straight from the wheel and lets the "
        "other beat pass. No oil on the impulse, and little error; but it does not start by itself, and a "
        "sharp turn may trip it.",
        "Der Anker arbeitet zweimal in jeder Schwingung. Bei der Wippe treibt das Rad die Unruh nur einmal, "
        "dafür unmittelbar, und die andere Halbschwingung bleibt ohne Impuls. Der Impuls braucht kein Öl, und "
        "der Hemmungsfehler ist klein; doch die Uhr läuft nicht von selbst an, und eine heftige Drehung kann "
        "sie galoppieren lassen.",
        "L'ancre travaille deux fois par oscillation; avec la détente, la roue donne une seule impulsion, "
        "directe, et l'autre alternance se fait à coup perdu. Pas d'huile à l'impulsion et peu d'erreur; mais "
        "la montre ne part pas seule, et une rotation brusque peut la faire galoper.",
    ),
    "escapements_look": ("Look at", "Ansehen", "Regarder"),
    "escapements_error": ("escapement error", "Hemmungsfehler", "erreur d'échappement"),
    "escapements_torque": (
        "torque through a period",
        "Drehmoment über eine Schwingung",
        "couple au cours d'une oscillation",
    ),
    "escapements_detent": ("{name}, detent", "{name}, Wippe", "{name}, détente"),
    "escapements_error_up": ("escapement error, s/day", "Hemmungsfehler, s/d", "erreur d'échappement, s/j"),
    "escapements_error_words": (
        "Escapement error, s/day, over amplitude: from 230° to 280° the lever's changes by {lever}, the "
        "detent's by {detent} s/day.",
        "Hemmungsfehler in s/d über der Amplitude: Von 230° bis 280° ändert sich der des Ankers um {lever}, "
        "der der Wippe um {detent} s/d.",
        "Erreur d'échappement selon l'amplitude: de 230° à 280° celle de l'ancre change de {lever}, celle de "
        "la détente de {detent} s/j.",
    ),
    "escapements_share": ("share of a period", "Anteil einer Schwingung", "part d'une oscillation"),
    "escapements_torque_up": (
        "torque, per cent of the greatest",
        "Drehmoment, Prozent des größten",
        "couple, pour cent du maximum",
    ),
    "escapements_torque_words": (
        "Torque of the escapement on the balance in per cent of its greatest, through one period: above "
        "nought it drives to the right.",
        "Drehmoment der Hemmung an der Unruh in Prozent des größten, über eine Schwingung: Über null treibt es "
        "nach rechts.",
        "Couple de l'échappement sur le balancier en pour cent du maximum, au cours d'une oscillation: "
        "au-dessus de zéro, il pousse vers la droite.",
    ),
}
