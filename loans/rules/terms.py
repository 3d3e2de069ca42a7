"""Terms of our own to begin with; each district replaces them with its own words. Not legal advice."""

DEFAULT_TERMS = """\
What is lent. The school lends the student the instrument described above. It stays the property of its owner and is \
known by the serial number and the number on its tag. The tag stays on.

Its condition. The condition and the accessories listed above are those at hand-out. Student and guardian have looked \
at them and say so by signing.

Care. The student keeps the instrument safe, dry and in its case, follows the care taught in class, and brings it to \
every rehearsal and lesson. It does not stay in a car or outdoors.

No repairs at home. Nobody but the school's technician or a shop chosen by the school repairs, bends, glues, polishes \
or takes apart the instrument.

Report at once. Anything broken, stuck, lost or stolen is reported to the director on the next school day. A theft is \
also reported to the police, and the school gets the number of that report.

Wear and damage. Normal wear is not charged: worn finish, pads, corks and felts, small scratches. Loss, and damage by \
neglect or accident, may be charged to student and guardian, by comparing the inspections at hand-out and return, and \
never above the replacement value stated above.

Not to be passed on. The instrument is for the named student only and is not lent to anybody else. A student who \
changes schools or leaves the program returns it first.

Return. It comes back with everything listed above on or before the return date, or earlier when the school asks.

Help. A family that cannot pay for a repair speaks with the director. No student is kept from playing for that reason \
alone.
"""
