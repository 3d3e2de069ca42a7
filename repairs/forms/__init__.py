"""What is entered at the bench; errors are phrased here, rules are not decided here."""

from repairs.forms.benches import BenchForm, NewBenchForm
from repairs.forms.filters import JobFilterForm
from repairs.forms.findings import FindingForm
from repairs.forms.opening import OpenJobForm
from repairs.forms.proving import GiveUpForm, ProveForm
from repairs.forms.steps import KeyForm, StepForm

__all__ = [
    "BenchForm",
    "FindingForm",
    "GiveUpForm",
    "JobFilterForm",
    "KeyForm",
    "NewBenchForm",
    "OpenJobForm",
    "ProveForm",
    "StepForm",
]
