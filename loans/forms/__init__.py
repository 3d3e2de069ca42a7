"""What is typed about students and loans; errors are phrased here, rules are not decided here."""

from loans.forms.filters import LoanFilterForm, StudentFilterForm
from loans.forms.lending import LendForm, TakeBackForm
from loans.forms.students import EraseForm, StudentForm, StudentLeftForm, TermsForm

__all__ = [
    "EraseForm",
    "LendForm",
    "LoanFilterForm",
    "StudentFilterForm",
    "StudentForm",
    "StudentLeftForm",
    "TakeBackForm",
    "TermsForm",
]
