"""Forms about students and loans: they phrase errors but decide no rules."""

from loans.forms.filters import LoanFilterForm, StudentFilterForm
from loans.forms.lending import LendForm, TakeBackForm
from loans.forms.signing import SignForm, SigningFields
from loans.forms.students import EraseForm, StudentForm, StudentLeftForm, TermsForm
