"""Importing a spreadsheet: send it, say what its columns are, look, confirm. Nothing is written before the last."""

from inventory.services.importing.answering import answer_list, keep_cleaner, mend_rows
from inventory.services.importing.at_once import import_file, judge_file
from inventory.services.importing.publishing import Published, Vouched, publish_import
from inventory.services.importing.staging import (
    KEPT_FOR,
    Begun,
    begin_import,
    choose_columns,
    drop_import,
    forget_old_lists,
    forget_problem_rows,
    judge_again,
    judge_more,
    read_list,
    sample_rows,
)
