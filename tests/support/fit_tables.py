"""The product's tables of tolerances, read as the product reads them."""

from roundwright.calibration.fits import fits_from
from roundwright.shared import shared_text

FITS = fits_from(
    shared_text("published", "iso-286-tolerances.csv"), shared_text("published", "iso-286-deviations.csv")
)
