from loans.rules.roster.problems import MOST_OF_A_FILE, Problem, Problems, quoted


def test_a_problem_says_its_place():
    assert Problem("users.csv", 5, "role", "Wrong.").sentence == "users.csv, row 5, role: Wrong."
    assert Problem("users.csv", None, "", "Gone.").sentence == "users.csv: Gone."


def test_they_come_by_file_as_read_and_by_row():
    problems = Problems()
    problems.add("users.csv", 9, "role", "b")
    problems.add("orgs.csv", 2, "", "c")
    problems.add("users.csv", 3, "role", "a")
    assert [(one.file, one.row) for one in problems.all()] == [("users.csv", 3), ("users.csv", 9), ("orgs.csv", 2)]


def test_of_a_file_with_very_many_the_rest_is_counted():
    problems = Problems()
    for row in range(MOST_OF_A_FILE + 7):
        problems.add("users.csv", row, "", "x")
    assert len(problems.all()) == MOST_OF_A_FILE + 1
    assert "7 more" in problems.all()[-1].reason


def test_what_is_quoted_stays_short():
    assert quoted("abc") == "abc"
    assert len(quoted("x" * 500)) == 40
