"""Rows of cases, made by the analytic engine from the text of case files.

The files are read as text, split into lines and taken apart by one query, a few thousand files at
a time, so that memory does not grow with their number.  A record counts once by its number; a line
that is no record is counted as damaged and costs nothing else.  What a case adds up to by
``casework.case`` is the judge of this query (tests/review).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import islice
from typing import TYPE_CHECKING

from diagnose.casework.hunt_task import IN_SERIES
from diagnose.loops.kind import Kind
from diagnose.review.rows import COLUMNS
from diagnose.review.vocabulary import MECHANISMS, MODES, ON_COMPLAINT

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

BATCH = 1000
"""Files taken apart at a time; some 25 kB each."""

STILL = 0.01
"""A reading after which no probability moves by more told nothing."""

TIED = 1.01
"""Hypotheses whose probabilities differ by less than this factor share a rank: one group."""

METERS = ("V", "VAC", "Vlow", "mA", "clamp", "ohm")

_OPENING = (
    '{"schema":"INTEGER","number":"INTEGER","event":"VARCHAR","at":"VARCHAR","tag":"VARCHAR",'
    '"loop_type":"VARCHAR","tool":"VARCHAR","sheet":{"role":["VARCHAR"],'
    '"places":[{"name":"VARCHAR","title":"VARCHAR","area":"VARCHAR"}],'
    '"parts":[{"name":"VARCHAR","kind":"VARCHAR","place":"VARCHAR"}]}}'
)
_RECORD = (
    '{"schema":"INTEGER","number":"INTEGER","event":"VARCHAR","at":"VARCHAR","text":"VARCHAR",'
    '"place":"VARCHAR","minutes":"DOUBLE","advised":"BOOLEAN","reading":"INTEGER",'
    '"key":"VARCHAR","item":"VARCHAR","top":[["VARCHAR"]],"unexplained":"DOUBLE",'
    '"distrusted":["INTEGER"],"versions":{"engine":"VARCHAR"},"part":"VARCHAR","fault":"VARCHAR",'
    '"ending":"VARCHAR","as_left":"VARCHAR"}'
)

_TEXTS = """
create or replace temp table texts as
select file, try(decode(content)) as content
from (select filename as file, content from read_blob(?))
"""

_RECORDS = f"""
create or replace temp table records as
with split as (
    select file, string_split(content, chr(10)) as list from texts where content is not null
), lines as (
    select file, unnest(list) as line, generate_subscripts(list, 1) as row from split
), parsed as materialized (
    select file, row, try(json_transform(line, '{_RECORD}')) as r
    from lines where row > 1 and trim(line) <> ''
)
select file, row, coalesce(r.number, -row) as no, r.number is null or r.event is null as bad,
       r.event as event, r.at as moment, r.text, r.place, r.minutes, r.advised, r.reading, r.key,
       r.item, r.top, r.unexplained, r.distrusted, r.versions.engine as engine, r.part, r.fault,
       r.ending, r.as_left
from parsed
"""

_TWICE = "select 1 from records group by file, no having count(*) > 1 limit 1"

_ONCE = """
create or replace temp table records as
select distinct on (file, no) * from records order by file, no, row
"""

_OPENINGS = f"""
create or replace temp table openings as
with parsed as materialized (
    select file, try(json_transform(line, '{_OPENING}')) as o
    from (select file, string_split(content, chr(10))[1] as line from texts)
)
select file, o.tag as tag, o.loop_type as loop_type, o.tool as tool, o.at as moment,
       coalesce(o.sheet.role, []) as role, coalesce(o.sheet.parts, []) as parts,
       coalesce(o.sheet.places, []) as places,
       [p.name for p in coalesce(o.sheet.places, []) if p.area <> 'safe'] as zones
from parsed where o.event = 'opened' and o.tag is not null
"""

_RANKINGS = f"""
create or replace temp table rankings as
with counted as (
    select file, no, event, top, unexplained, engine, distrusted,
           count(*) filter (event = 'reading') over (partition by file order by no) as readings,
           min(no) filter (event = 'cause confirmed') over (partition by file) as confirmed
    from records where event in ('reading', 'ranked', 'cause confirmed')
), ranked as (
    select *, map_from_entries(list_distinct([
               (concat_ws('|', coalesce(t[1], ''), t[2], t[3]), t[4]::DOUBLE) for t in top]))
               as known
    from counted where event = 'ranked'
), paired as (
    select *, lag(known) over w as before, lag(readings) over w as readings_before
    from ranked window w as (partition by file order by no)
)
select file, no, top, unexplained, engine, distrusted, confirmed,
       case when before is not null and list_max([abs(known[k] - coalesce(before[k], 0.0))
                     for k in map_keys(known)]) < {STILL}
            then readings - readings_before else 0 end as idle
from paired
"""

_LAST = """
create or replace temp table last_rankings as
select file, arg_max(top, no) as top, arg_max(unexplained, no) as unmodelled,
       arg_max(engine, no) as engine, sum(idle)::INTEGER as told_nothing,
       arg_max(top, no) filter (confirmed is null or no < confirmed) as judged,
       arg_max(unexplained, no) filter (confirmed is null or no < confirmed) as judged_rest,
       list_distinct(flatten(list(coalesce(distrusted, [])))) as distrusted
from rankings group by file
"""

_SUMS = """
create or replace temp table sums as
with e as (select r.*, z.zones, z.role,
                  list_contains(?, split_part(trim(r.text), ' ', 1)) as metered,
                  trim(regexp_replace(trim(r.text), '^(complaint|symptom|context|fact)\\b:?', '',
                                      'i')) as said,
                  list_contains(?, r.item) as breaks
           from records r left join openings z using (file))
select file,
    count(*) filter (bad)::INTEGER as damaged,
    case when max(no) filter (event = 'closed')
              > coalesce(max(no) filter (event not in ('closed', 'noted')), 0)
         then arg_max(ending, no) filter (event = 'closed') end as ending,
    arg_max({'part': part, 'fault': fault}, no) filter (event = 'cause confirmed') as proved,
    min(moment) filter (event = 'cause confirmed') as confirmed_at,
    arg_max(as_left, no) filter (event = 'remedy tried') as activity,
    arg_max(moment, no) filter (not bad) as last_at,
    coalesce(list(said) filter (event = 'unsaid'), []) as unsaid,
    list(said order by no) filter (event = 'complained') as complaints,
    list_sort(coalesce(list(distinct said) filter (event = 'context'), [])) as facts,
    count(*) filter (event = 'reading')::INTEGER as readings,
    count(*) filter (event = 'reading' and advised)::INTEGER as advised,
    count(distinct reading) filter (event = 'reading corrected')::INTEGER as corrected,
    count(distinct reading) filter (event = 'reading withdrawn')::INTEGER as withdrawn,
    coalesce(list(distinct reading)
        filter (event in ('reading corrected', 'reading withdrawn')), []) as mended,
    coalesce(sum(minutes) filter (event = 'reading'), 0.0) as minutes,
    count(*) filter (event = 'altered' and breaks)::INTEGER as interruptions,
    count(*) filter (event = 'caution acknowledged')::INTEGER as acknowledged,
    min(no) filter (event = 'reading' and metered and list_contains(zones, place)) as in_zone,
    min(no) filter (event = 'altered' and breaks) as broke,
    min(no) filter (event = 'caution acknowledged' and key = 'zone') as zone_said,
    min(no) filter (event = 'caution acknowledged' and key = 'trip') as trip_said,
    min(no) filter (event = 'caution acknowledged' and key = 'manual') as manual_said,
    min(no) filter (event = 'caution acknowledged' and key = 'output') as output_said
from e group by file
"""

_LEFT = """
create or replace temp table left_open as
select file, list(item order by item) as items from (
    select file, item from records where event in ('altered', 'restored')
    group by file, item
    having count(*) filter (event = 'altered') > count(*) filter (event = 'restored'))
group by file
"""

_MOMENT = "try_cast({} as TIMESTAMPTZ) at time zone 'UTC'"

_ROWS = f"""
with base as (
    select t.file, t.content, t.content is null as unreadable, o.*, s.*, l.*, left_open.items,
           proved.part as part, proved.fault as fault, top[1][1] as s_part, top[1][2] as s_fault,
           top[1][4]::DOUBLE as s_chance,
           [struct_pack(key := (x[1], x[2]), p := x[4]::DOUBLE) for x in judged] as listed
    from texts t left join openings o using (file) left join sums s using (file)
         left join last_rankings l using (file) left join left_open using (file)
), judged_rows as (
    select *,
        case when proved is not null and judged is not null then coalesce(list_sum(
            [x.p for x in listed if x.key = (part, fault)]), 0.0) end as chance,
        list_max([x.p for x in listed]) as lead,
        1 - list_sum([x.p for x in listed]) - judged_rest as rest
    from base
)
select
    regexp_extract(file, '([^/\\\\]+?)(\\.jsonl)?$', 1) as name, 'case' as source,
    ?::VARCHAR as plant, coalesce(tag, '') as tag, coalesce(loop_type, '') as loop_type,
    coalesce(tool, '') as tool, coalesce(engine, '') as engine,
    try_cast(left(moment, 10) as DATE) as day, {_MOMENT.format("moment")} as opened,
    case when unreadable or tag is null then 'unreadable' else coalesce(ending, 'open') end
        as status,
    part, fault,
    list_filter(parts, lambda x: x.name = part)[1].kind as kind,
    list_filter(parts, lambda x: x.name = part)[1].place as place,
    s_part as suspect_part, s_fault as suspect_fault,
    list_filter(parts, lambda x: x.name = s_part)[1].kind as suspect_kind,
    list_filter(parts, lambda x: x.name = s_part)[1].place as suspect_place,
    s_chance as suspect_chance,
    coalesce([x for x in complaints if not list_contains(unsaid, x)][1], '') as complaint,
    [x for x in facts if not list_contains(unsaid, x)] as contexts, chance,
    case when chance > 0 then 1 + len([1 for x in listed if x.p > {TIED} * chance]) end as rank,
    case when proved is not null then lead end as lead,
    case when chance is not null then (
        list_sum([x.p * x.p for x in listed]) + judged_rest ** 2 + greatest(rest, 0) ** 2 + 1
        - 2 * case when chance > 0 then chance else greatest(rest, 0) end) / 2 end as brier,
    unmodelled, coalesce(readings, 0), coalesce(advised, 0), coalesce(corrected, 0),
    coalesce(withdrawn, 0),
    coalesce(told_nothing, 0) as told_nothing, coalesce(minutes, 0.0),
    coalesce(greatest(0, date_diff('second', {_MOMENT.format("moment")},
        {_MOMENT.format("coalesce(confirmed_at, last_at, moment)")}) / 60.0), 0.0) as elapsed,
    coalesce(interruptions, 0), coalesce(acknowledged, 0),
    [x.k for x in [
        {{'k': 'zone', 'at': in_zone, 'said': zone_said}},
        {{'k': 'trip', 'at': case when list_contains(role, 'trip') then broke end,
         'said': trip_said}},
        {{'k': 'manual', 'at': case when list_contains(role, 'control') then broke end,
         'said': manual_said}},
        {{'k': 'output', 'at': case when list_contains(role, 'output') then broke end,
         'said': output_said}}] if x.at is not null and coalesce(x.said > x.at, true)]
        as unacknowledged,
    coalesce(items, []) as open_items,
    coalesce(len([n for n in distrusted if list_contains(mended, n)]), 0)::INTEGER
        as distrusted_right,
    case when proved is null then 0 else
        coalesce(len([n for n in distrusted if not list_contains(mended, n)]), 0)::INTEGER end
        as distrusted_wrong,
    coalesce(damaged, 0) + case when tag is null and trim(content) <> '' then 1 else 0 end,
    nullif(coalesce(map_extract_value(?::MAP(VARCHAR, VARCHAR), complaint), complaint), '') as mode,
    map_extract_value(?::MAP(VARCHAR, VARCHAR), fault) as mechanism, null as cause,
    case when complaint <> '' then ? end as detection,
    case when fault is not null then activity end as activity, '' as note
from judged_rows
"""


@cache
def _breaking() -> list[str]:
    """Items of what whoever uses the signal notices, as a case records them."""
    import diagnose.loops.kinds  # noqa: F401  (registers the kinds)

    actions = (action for kind in Kind.registry.values() for action in kind.actions)
    titles = {action.title for action in actions if action.interrupts or action.moves_signal}
    return sorted({*titles, IN_SERIES, "jumper"})


def add_files(
    engine: DuckDBPyConnection, files: Sequence[str], plant: str, table: str = "cases"
) -> None:
    """Append the rows of case files (paths, or addresses that the engine reads) to a table."""
    for some in _batches(files):
        engine.execute(_TEXTS, [list(some)])
        engine.execute(_RECORDS)
        if engine.execute(_TWICE).fetchall():  # rare, and costly to look after each time
            engine.execute(_ONCE)
        for query in (_OPENINGS, _RANKINGS, _LAST):
            engine.execute(query)
        engine.execute(_SUMS, [list(METERS), _breaking()])
        engine.execute(_LEFT)
        engine.execute(
            f"insert into {table} ({', '.join(COLUMNS)}) {_ROWS}",
            [plant, dict(MODES), dict(MECHANISMS), ON_COMPLAINT],
        )


def _batches(files: Sequence[str]) -> Iterator[Sequence[str]]:
    left = iter(files)
    while some := list(islice(left, BATCH)):
        yield some
