"""What lending prints."""

from loans.pdf.agreements import addendum_pdf, agreement_pdf, content_of
from loans.pdf.hand_out import hand_out_pdf
