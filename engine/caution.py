"""The standing caution, in one place: first screen, checklists and reports all carry this text."""

STANDING = (
    "The voltages in a tube amplifier can kill, and the capacitors keep them for hours after it is unplugged. "
    "Follow your local electrical codes; where the law requires a licensed or qualified person, leave it to them. "
    "If you have not been trained to work on live chassis, stop and take the amplifier to someone who has."
)
