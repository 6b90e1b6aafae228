"""The standing caution, in one place: first screen, checklists and reports all carry this text."""

STANDING = (
    "The voltages in a valve amplifier can kill, and the capacitors keep them for hours after it is unplugged. "
    "Work by your local electrical codes; where the law asks for a licensed or qualified person, the work is theirs. "
    "If you have not been trained to work on live chassis, stop and take the amplifier to somebody who has."
)
