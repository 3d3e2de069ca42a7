"""Were the promises of a district's jobs kept? ``python -m tests.bench.promises`` reads the database of the settings."""

from __future__ import annotations


def promise_line() -> str:
    """How often the truth fell under P50 and P80, every job promised with only what was known when it was opened."""
    from repairs.models import Job
    from repairs.rules.promises import promises_kept
    from repairs.selectors.promises import judged_jobs, past_promises

    kept = promises_kept(past_promises(judged_jobs(Job.objects.all())))
    return (
        f"under P50 {kept.under_p50} of {kept.jobs}, under P80 {kept.under_p80} of {kept.jobs} "
        f"(exact 95% limits {kept.limits_words}): {kept.verdict}"
        if kept.jobs
        else kept.verdict
    )


def main() -> None:
    import django

    django.setup()
    print(promise_line())


if __name__ == "__main__":
    main()
