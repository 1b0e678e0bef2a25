"""Words of the lesson, English, German and French: what the page answers."""

from __future__ import annotations

from oscsim.teaching.words_works import Row

RESULTS: dict[str, Row] = {
    "state_stops": ("stops", "steht", "arrêtée"),
    "state_knocks": ("knocks", "prellt", "rebat"),
    "state_running": ("running", "läuft", "marche"),
    "not_running": ("does not run", "läuft nicht", "ne marche pas"),
    "shaded": ("shaded: knocks", "getönt: prellt", "teinté: rebat"),
    "no_mean": (
        "No mean rate: it stops, or knocks too hard for a number, in some position.",
        "Kein mittlerer Gang: In einer Lage steht sie, oder sie prellt zu stark für eine Zahl.",
        "Pas de marche moyenne: dans une position elle s'arrête, ou rebat trop fort pour un nombre.",
    ),
    "mean": (
        "Fully wound: mean rate {mean} s/day, spread over the positions {spread} s/day.",
        "Voll aufgezogen: mittlerer Gang {mean} s/d, Unterschied der Lagen {spread} s/d.",
        "Remontée à fond: marche moyenne {mean} s/j, écart entre positions {spread} s/j.",
    ),
    "knocking": (
        "Knocks: above {limit} the impulse pin strikes the fork from outside.",
        "Prellt: Über {limit} schlägt der Hebelstein von außen an die Gabel.",
        "Rebat: au-dessus de {limit}, la cheville heurte la fourchette par l'extérieur.",
    ),
    "runs": (
        "Dial up the watch runs {flat}, with 12 up {upright} (as designed {flat_given} and {upright_given}).",
        "Zifferblatt oben läuft die Uhr {flat}, mit 12 oben {upright} (wie entworfen {flat_given} und "
        "{upright_given}).",
        "Cadran en haut la montre marche {flat}, 12 en haut {upright} (selon le plan {flat_given} et "
        "{upright_given}).",
    ),
    "runs_not": (
        "It does not run: no amplitude can be kept up.",
        "Sie läuft nicht: Keine Amplitude hält sich.",
        "Elle ne marche pas: aucune amplitude ne se maintient.",
    ),
    "hours": ("hours since full wind", "Stunden seit Vollaufzug", "heures depuis le remontage complet"),
    "a_day": ("a day", "ein Tag", "un jour"),
    "loses": ("loses {rate}", "geht {rate} nach", "retarde {rate}"),
    "gains": ("gains {rate} s/day", "geht {rate} s/d vor", "avance {rate} s/j"),
    "above": ("above", "oben", "en haut"),
    "below": ("below", "unten", "en bas"),
    "left": ("left", "links", "à gauche"),
    "right": ("right", "rechts", "à droite"),
    "map_across": (
        "where the heavy point stands at rest",
        "wo die schwere Stelle in Ruhelage steht",
        "où se tient le balourd au repos",
    ),
    "map_node": ("node {at}°", "Knoten {at}°", "nœud {at}°"),
    "map_poised": (
        "The balance is poised: there is nothing to see until it is given an unbalance.",
        "Die Unruh ist ausgewuchtet: Ohne Unwucht ist nichts zu sehen.",
        "Le balancier est équilibré: rien à voir tant qu'il n'a pas de balourd.",
    ),
    "map_at": ("{rate} s/day at {at}°", "{rate} s/d bei {at}°", "{rate} s/j à {at}°"),
    "map_told": (
        "With the heavy point below, this unbalance changes the rate by {told}.",
        "Mit der schweren Stelle unten ändert diese Unwucht den Gang um {told}.",
        "Le balourd en bas, la marche change de {told}.",
    ),
    "map_told_node": (
        "With the heavy point below, this unbalance changes the rate by {told}; at {node}° it vanishes.",
        "Mit der schweren Stelle unten ändert diese Unwucht den Gang um {told}; bei {node}° verschwindet sie.",
        "Le balourd en bas, la marche change de {told}; à {node}° l'effet s'annule.",
    ),
    "group_drop": ("drop", "Fall", "chute"),
    "group_unlocking": ("unlocking", "Auslösung", "dégagement"),
    "group_impulse_faces": ("impulse faces", "Hebeflächen", "plans d'impulsion"),
    "group_fork_and_pin": ("fork and pin", "Gabel und Hebelstein", "fourchette et cheville"),
    "group_lever_and_wheel": ("lever and wheel", "Anker und Rad", "ancre et roue"),
    "group_air_and_spring": ("air and spring", "Luft und Spiralfeder", "air et spiral"),
    "group_pivots": ("pivots", "Zapfen", "pivots"),
    "energy_words": (
        "Fully wound, the escape wheel is given {energy} nJ a beat, {train} of what the barrel gives: the "
        "rest stays in the train. {flat} of what the wheel is given reaches the balance lying flat, "
        "{upright} with 12 up.",
        "Voll aufgezogen erhält das Ankerrad {energy} nJ je Halbschwingung, {train} dessen, was das "
        "Federhaus gibt: Der Rest bleibt im Räderwerk. {flat} davon erreichen die Unruh liegend, {upright} "
        "mit 12 oben.",
        "Remontée à fond, la roue d'ancre reçoit {energy} nJ par alternance, {train} de ce que donne le "
        "barillet: le reste demeure dans le rouage. {flat} en arrivent au balancier à plat, {upright} avec "
        "12 en haut.",
    ),
    "energy_none": (
        "Where the watch has no amplitude in the table there is no budget.",
        "Wo die Uhr keine Amplitude in der Tabelle hat, gibt es keine Energiebilanz.",
        "Là où la montre n'a pas d'amplitude dans la table, il n'y a pas de bilan.",
    ),
    "drawn_stopped": ("It has stopped.", "Sie steht.", "Elle s'est arrêtée."),
    "drawn_knocks": (
        "It knocks: drawn at {limit}, where the pin meets the fork from outside.",
        "Sie prellt: gezeichnet bei {limit}, wo der Hebelstein die Gabel von außen trifft.",
        "Elle rebat: dessinée à {limit}, où la cheville rencontre la fourchette par l'extérieur.",
    ),
    "drawn_pins": (
        "In this watch pins stand for the stones, and the lift lies on the tooth: the work is the same.",
        "In dieser Uhr stehen Stifte für die Paletten, und die Hebung liegt am Zahn: Die Arbeit ist "
        "dieselbe.",
        "Dans cette montre des chevilles tiennent lieu de palettes, et la levée est sur la dent: le travail "
        "est le même.",
    ),
    "drawn": (
        "Drawn at {amplitude}, {times} times slower than the watch.",
        "Gezeichnet bei {amplitude}, {times}-mal langsamer als die Uhr.",
        "Dessiné à {amplitude}, {times} fois plus lentement que la montre.",
    ),
    "spoken": (
        "{said}Fully wound, dial up: {flat}; 12 up: {upright}. After a day: {flat_later} and {upright_later}.",
        "{said}Voll aufgezogen, Zifferblatt oben: {flat}; 12 oben: {upright}. Nach einem Tag: {flat_later} "
        "und {upright_later}.",
        "{said}Remontée à fond, cadran en haut: {flat}; 12 en haut: {upright}. Après un jour: {flat_later} et"
        " {upright_later}.",
    ),
}
