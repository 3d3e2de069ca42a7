"""Archives: files in one zip with a manifest of their hashes, signed with Ed25519, checked without a database."""

from core.archives.checking import Checked, check_archive
from core.archives.keys import make_key, public_text, read_key, read_public
from core.archives.writing import Part, write_archive
