"""Tags on paper."""

from inventory.pdf.labels import Label, label_sheet
from inventory.pdf.printing import print_labels, public_address
