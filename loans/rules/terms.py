"""Default terms, to be replaced by each district's own. Not legal advice."""

DEFAULT_TERMS = """\
What is lent. The school lends the student the instrument described above. It stays the property of its owner and is \
known by the serial number and the number on its tag. The tag stays on.

Condition. The condition and accessories listed above are those at hand-out. By signing, student and guardian confirm \
that they have checked them.

Care. The student keeps the instrument safe, dry and in its case, follows the care taught in class, and brings it to \
every rehearsal and lesson. It is never left in a car or outdoors.

No repairs at home. Only the school's technician or a shop chosen by the school may repair, bend, glue, polish or take \
apart the instrument.

Report problems. Anything broken, stuck, lost or stolen is reported to the director by the next school day. A theft is \
also reported to the police, and the school receives the report number.

Wear and damage. Normal wear is not charged: worn finish, pads, corks and felts, small scratches. Loss, and damage by \
neglect or accident, may be charged to student and guardian, by comparing the inspections at hand-out and return, and \
never above the replacement value stated above.

No sharing. The instrument is for the named student only and is not lent to anyone else. A student who changes schools \
or leaves the program returns it first.

Return. The instrument is returned with everything listed above on or before the return date, or earlier if the \
school asks.

Help. A family that cannot pay for a repair should talk with the director. No student is kept from playing for that \
reason alone.
"""
