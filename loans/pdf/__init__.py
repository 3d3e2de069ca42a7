"""What lending prints."""

from loans.pdf.agreements import agreement_pdf, content_of
from loans.pdf.hand_out import hand_out_pdf
