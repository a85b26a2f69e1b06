"""Steps gone through minute by minute: knows nothing of spans, shifts or quarter hours."""

DAMP = 0.15  # mm, from here on film is wet to the hand
LONGER = 1.3  # times the minutes on wet film


def minutes_of(lengths, pace, *, wet):
    """Give (first, last) minute of each phase, all of them whole numbers."""
    spent, at = [], 0
    for length in lengths:
        length = round(length * pace * (LONGER if wet else 1.0))
        spent.append((at, at + length))
        at += length
    return spent


def touched(first, last):
    """Give the hours that some minutes are in."""
    return sorted({minute // 60 for minute in range(first, last)})


def met_by(gust, start, spent):
    """Give for each phase the gusts that it meets, an hour that the step hardly touches less.

    None stands for an hour past the end of the file.
    """
    whole = [0] * (len(gust) + 50)
    for minute in range(start, start + spent[-1][1]):
        whole[minute // 60] += 1
    met = []
    for first, last in spent:
        own = touched(start + first, start + last)
        met.append(
            [
                None if hour >= len(gust) else gust[hour] * (0.95 if whole[hour] < 20 else 1.0)
                for hour in own
            ]
        )
    return met
