"""What lending prints."""

from loans.pdf.agreements import agreement_pdf, content_of
