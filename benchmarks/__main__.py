"""``python -m benchmarks``: the main job beside a bare script; ``... outlines 200``: random outlines."""

import sys


def _dry_run(words: list[str]) -> str:
    """Times and memory, or mistakes, volumes or random jobs."""
    from benchmarks import dry_run, dry_run_fuzz, dry_run_jobs

    what = words[0] if words else "3"
    if what == "mistakes":
        return dry_run_jobs.mistakes()
    if what == "volumes":
        return dry_run_jobs.volumes()
    if what == "fuzz":
        count, first = (int(words[k]) if len(words) > k else spare for k, spare in ((1, 100), (2, 0)))
        return dry_run_fuzz.run(count, first)
    return dry_run.run(int(what))


def main(words: list[str]) -> None:
    """Run one benchmark and print its table."""
    name = words[0] if words else "job"
    if name == "job":
        from benchmarks import main_job

        print(main_job.run(int(words[1]) if len(words) > 1 else 5))
    elif name == "outlines":
        from benchmarks import robustness

        print(robustness.run(int(words[1]) if len(words) > 1 else 200))
    elif name == "shapes":
        from benchmarks import robustness

        count, first = (int(words[k]) if len(words) > k else spare for k, spare in ((1, 1000), (2, 0)))
        print(robustness.run(count, shaped=True, first=first))
    elif name == "offsets":
        from benchmarks import offsets

        print(offsets.run(int(words[1]) if len(words) > 1 else 20))
    elif name == "looks":
        from benchmarks import looks

        print(looks.run(int(words[1]) if len(words) > 1 else 3))
    elif name == "scans":
        from benchmarks import scans

        print(scans.run())
    elif name == "fuzz":
        from benchmarks import fuzz

        print(fuzz.run(words[1:]))
    elif name == "dry-run":
        print(_dry_run(words[1:]))
    elif name == "nest":
        from benchmarks import nest

        print(nest.run(words[1:]))
    else:
        raise SystemExit(
            "usage: python -m benchmarks [job [ROUNDS] | outlines [COUNT] | shapes [COUNT [FIRST]]"
            " | offsets [ROUNDS] | looks [ROUNDS] | scans"
            " | dry-run [ROUNDS | mistakes | volumes | fuzz [COUNT [FIRST]]]"
            " | nest [jobs [EFFORT] [--yardstick FILE [SECONDS]] | scaling | open PATH]"
            " | fuzz KIND COUNT [--seed N] [--keep FOLDER] [FILE...]]"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
