"""What a bench prints."""

from repairs.pdf.care import care_card_pdf, care_day_pdf
from repairs.pdf.orders import packing_slips_pdf, shopping_pdf
from repairs.pdf.sheet import bench_sheet_pdf
