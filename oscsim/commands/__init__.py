"""The commands, one file each: ``register`` says what a command takes. Here is what each is for.

A command's file loads neither NumPy nor the engine before it runs: it asks through ``oscsim``, which loads a public
name when it is first used. So help and completion come at once, and an answer loads only what it needs.
"""

#: Every command and the line that the help has for it, in the order of the help.
COMMANDS = {
    "settle": "settled amplitude, rate and beat error by position and hour",
    "rundown": "amplitude and rate against hours until the stop",
    "rates": "rates by position and hour, their mean and spread, and what moves them",
    "isochronism": "rate against amplitude, whole and cause by cause",
    "hairspring": "the hairspring by its shape: torque, side force, weight and rate, and what a change does",
    "ratemap": "map of the rate over amplitude and direction of the balance's heavy point",
    "band": "working band of amplitude: where the vertical positions keep together",
    "trace": "motion in time: the phases of a beat, a start-up, a shock, an amplitude that breathes",
    "budget": "energy of a beat: where it goes, and what each cause costs in amplitude",
    "compare": "designs side by side, and what makes the difference between two",
    "whatif": "amplitude against any number of the design, or over two; or what a step of each changes",
    "change": "before and after a piece of work: parts changed, holes jewelled, fresh oil",
    "swap": "other mainsprings in the present barrel, ranked",
    "tolerance": "what sound examples of a design show, and which tolerance matters most",
    "tradeoff": "what a design gets for what it gives up, designs side by side or the front around one",
    "ageing": "amplitude over years without service, and when it needs one",
    "trial": "the seven criteria of ISO 3159 from simulation, and the chance of passing",
    "days": "days with its wearer: wind, amplitude in the morning, daily error, best night position",
    "diary": "what a diary of daily errors tells of winding, regulation and noise",
    "explore": "sliders on a design in a window: amplitude, run-down, heavy point and energy follow",
    "diagnose": "say from readings whether something is wrong, what, and what to do next",
    "poise": "the balance's heavy point from vertical rates, and what to take away",
    "progress": "readings before and after the work: what changed, and was it as predicted",
    "ripple": "which wheel or hand makes the amplitude breathe, from readings in time",
    "fit": "fit chosen numbers of a design to the readings of a movement known to be in order",
    "sketch": "a plausible complete design from the little a bench knows",
    "check": "validate and explain design files, and suggest what is missing",
    "page": "one HTML file for a lesson: sliders on the design, answers without the program",
    "designs": "list the bundled designs, or print one to be copied and edited",
    "completion": "print a script that lets the shell complete commands, options and names",
}
