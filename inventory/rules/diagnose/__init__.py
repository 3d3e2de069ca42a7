"""From the notes that failed in a play test to the parts that explain them, fewest causes first."""

from inventory.rules.diagnose.predictions import Prediction, Survey, survey
from inventory.rules.diagnose.suspects import Diagnosis, PlayedNotes, Suspect, UnknownNotesError, diagnose
