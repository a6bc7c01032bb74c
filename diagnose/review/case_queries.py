"""The queries that make rows of the text of cases, a batch at a time, one after the other.

A line of a case is taken apart once; all else works on numbers of files and on what was taken out.
What does not have the form that it should have (a chance that is no number, say) is left out, and
costs nothing else.
"""

from __future__ import annotations

STILL = 0.01
"""A reading after which no probability moves by more told nothing."""

TIED = 1.01
"""Hypotheses whose probabilities differ by less than this factor share a rank: one group."""

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


HEAD = r"""^\{"schema": ?\d+, ?"number": ?1, ?"event": ?"opened", ?"at": ?"([^"\\]*)", ?"""
"""How the first line of a case begins as this package writes it; what follows the moment is the
same in all cases of a loop whose sheet has not changed, and is taken apart once.
"""

_LINES = """
create or replace temp table lines as
with texts as (
    select row_number() over () as file, file as path,
           coalesce(string_split({decoded}, chr(10)), [null]) as list
    from {source}
)
select file, unnest(list) as line, generate_subscripts(list, 1) as row,
       case when row = 1 then path end as path
from texts
"""

_FILES = "(select filename as file, content from read_blob(?))"
_PLAIN, _CAREFUL = "decode(content)", "try(decode(content))"

OF_FILES = (
    _LINES.format(source=_FILES, decoded=_PLAIN),
    _LINES.format(source=_FILES, decoded=_CAREFUL),
)
OF_TEXTS = (
    _LINES.format(source="some_texts", decoded=_PLAIN),
    _LINES.format(source="some_texts", decoded=_CAREFUL),
)
"""Lines of cases: the quick query, and the one that passes over a text that is not UTF-8."""

RECORDS = f"""
create or replace temp table parsed as
select file, row, try(json_transform(line, '{_RECORD}')) as r
from lines where row > 1 and line <> '' and regexp_matches(line, '\\S')
"""

VIEW = """
create or replace temp view records as
select file, row, coalesce(r.number, -row) as no, r.number is null or r.event is null as bad,
       r.event as event, r.at as moment, r.text as text, r.place as place, r.minutes as minutes,
       r.advised as advised, r.reading as reading, r.key as key, r.item as item, r.top as top,
       r.unexplained as unexplained, r.distrusted as distrusted, r.versions.engine as engine,
       r.part as part, r.fault as fault, r.ending as ending, r.as_left as as_left
from parsed
"""

TWICE = "select 1 from records group by file, no having count(*) > 1 limit 1"

ONCE = """
delete from parsed where (file, row) not in (select file, min(row) from records group by file, no)
"""

SHEETS = f"""
create or replace temp table sheets as
with heads as (
    select file, line, regexp_extract(line, '{HEAD}', 0) as head,
           regexp_extract(line, '{HEAD}', 1) as moment
    from lines where row = 1 and line is not null
), known as materialized (
    select case when head <> '' then '{{"event":"opened",' || line[strlen(head) + 1:] else line end
               as text,
           list({{'file': file, 'moment': moment}}) as cases
    from heads group by text
)
select row_number() over () as sheet, cases, try(json_transform(text, '{_OPENING}')) as o
from known
"""

OPENINGS = """
create or replace temp table openings as
select c.file as file, sheet, coalesce(nullif(c.moment, ''), said) as moment
from (select sheet, unnest(cases) as c, o.at as said from sheets
      where o.event = 'opened' and o.tag is not null)
"""

RANKINGS = f"""
create or replace temp table rankings as
with counted as (
    select file, no, event, count(*) filter (event = 'reading') over w as readings,
           min(no) filter (event = 'cause confirmed') over (partition by file) as confirmed
    from records where event in ('reading', 'ranked', 'cause confirmed')
    window w as (partition by file order by no)
), known as (
    select file, no, unexplained, engine, distrusted, readings, confirmed,
           [{{'part': t[1], 'fault': t[2], 'also': t[3],
              'p': coalesce(try_cast(t[4] as DOUBLE), 0)}} for t in coalesce(top, [])] as top
    from records join counted using (file, no) where records.event = 'ranked'
), paired as (
    select *, lag(top) over w as before, lag(readings) over w as readings_before
    from known window w as (partition by file order by no)
)
select file, no, top, unexplained, engine, distrusted, confirmed,
       case when before is not null and list_max([abs(x.p - coalesce(list_filter(before,
                lambda y: y.fault = x.fault and y.part is not distinct from x.part
                          and y.also is not distinct from x.also)[1].p, 0.0)) for x in top])
                < {STILL}
            then readings - readings_before else 0 end as idle
from paired
"""

LAST = """
create or replace temp table last_rankings as
select file, arg_max(top, no) as top, arg_max(unexplained, no) as unmodelled,
       arg_max(engine, no) as engine, sum(idle)::INTEGER as told_nothing,
       arg_max(top, no) filter (confirmed is null or no < confirmed) as judged,
       arg_max(unexplained, no) filter (confirmed is null or no < confirmed) as judged_rest,
       list_distinct(flatten(list(coalesce(distrusted, [])))) as distrusted
from rankings group by file
"""

SUMS = """
create or replace temp table sums as
with e as (select *, event = 'reading' as reads,
                  case when event in ('complained', 'context', 'unsaid') then
                      trim(regexp_replace(trim(text), '^(complaint|symptom|context|fact)\\b:?', '',
                                          'i')) end as said,
                  event = 'altered' and list_contains(?, item) as breaks
           from records)
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
    count(*) filter (reads)::INTEGER as readings,
    count(*) filter (reads and advised)::INTEGER as advised,
    count(distinct reading) filter (event = 'reading corrected')::INTEGER as corrected,
    count(distinct reading) filter (event = 'reading withdrawn')::INTEGER as withdrawn,
    coalesce(list(distinct reading)
        filter (event in ('reading corrected', 'reading withdrawn')), []) as mended,
    coalesce(sum(minutes) filter (reads), 0.0) as minutes,
    count(*) filter (breaks)::INTEGER as interruptions,
    count(*) filter (event = 'caution acknowledged')::INTEGER as acknowledged,
    list({'no': no, 'place': place}) filter (
        reads and list_contains(?, split_part(trim(text), ' ', 1))) as metered,
    min(no) filter (breaks) as broke,
    min(no) filter (event = 'caution acknowledged' and key = 'zone') as zone_said,
    min(no) filter (event = 'caution acknowledged' and key = 'trip') as trip_said,
    min(no) filter (event = 'caution acknowledged' and key = 'manual') as manual_said,
    min(no) filter (event = 'caution acknowledged' and key = 'output') as output_said
from e group by file
"""

LEFT = """
create or replace temp table left_open as
select file, list(item order by item) as items from (
    select file, item from records where event in ('altered', 'restored')
    group by file, item
    having count(*) filter (event = 'altered') > count(*) filter (event = 'restored'))
group by file
"""

_MOMENT = "try_cast({} as TIMESTAMPTZ) at time zone 'UTC'"

ROWS = f"""
with opened as (
    select openings.file, moment, o.tag as tag, o.loop_type as loop_type, o.tool as tool,
           coalesce(o.sheet.role, []) as role, coalesce(o.sheet.parts, []) as parts,
           [p.name for p in coalesce(o.sheet.places, []) if p.area <> 'safe'] as zones
    from openings join sheets using (sheet)
), base as (
    select t.file, t.path, t.line, o.*, s.*, l.*, left_open.items,
           proved.part as part, proved.fault as fault, top[1].part as s_part,
           top[1].fault as s_fault, top[1].p as s_chance,
           list_min([x.no for x in metered if list_contains(zones, x.place)]) as in_zone
    from (select file, path, line from lines where row = 1) t
         left join opened o using (file) left join sums s using (file)
         left join last_rankings l using (file) left join left_open using (file)
), judged_rows as (
    select *,
        case when proved is not null and judged is not null then coalesce(list_sum(
            [x.p for x in judged if x.fault = fault and x.part is not distinct from part]), 0.0)
            end as chance,
        list_max([x.p for x in judged]) as lead,
        1 - list_sum([x.p for x in judged]) - judged_rest as rest
    from base
)
select
    regexp_extract(path, '([^/\\\\]+?)(\\.jsonl)?$', 1) as name, 'case' as source,
    ?::VARCHAR as plant, coalesce(tag, '') as tag, coalesce(loop_type, '') as loop_type,
    coalesce(tool, '') as tool, coalesce(engine, '') as engine,
    try_cast(left(moment, 10) as DATE) as day, {_MOMENT.format("moment")} as opened,
    case when tag is null then 'unreadable' else coalesce(ending, 'open') end as status,
    part, fault,
    list_filter(parts, lambda x: x.name = part)[1].kind as kind,
    list_filter(parts, lambda x: x.name = part)[1].place as place,
    s_part as suspect_part, s_fault as suspect_fault,
    list_filter(parts, lambda x: x.name = s_part)[1].kind as suspect_kind,
    list_filter(parts, lambda x: x.name = s_part)[1].place as suspect_place,
    s_chance as suspect_chance,
    coalesce([x for x in complaints if not list_contains(unsaid, x)][1], '') as complaint,
    [x for x in facts if not list_contains(unsaid, x)] as contexts, chance,
    case when chance > 0 then 1 + len([1 for x in judged if x.p > {TIED} * chance]) end as rank,
    case when proved is not null then lead end as lead,
    case when chance is not null then (
        list_sum([x.p * x.p for x in judged]) + judged_rest ** 2 + greatest(rest, 0) ** 2 + 1
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
    coalesce(damaged, 0) + case when tag is null and trim(line) <> '' then 1 else 0 end,
    nullif(coalesce(map_extract_value(?::MAP(VARCHAR, VARCHAR), complaint), complaint), '') as mode,
    map_extract_value(?::MAP(VARCHAR, VARCHAR), fault) as mechanism, null as cause,
    case when complaint <> '' then ? end as detection,
    case when fault is not null then activity end as activity, '' as note
from judged_rows
"""
