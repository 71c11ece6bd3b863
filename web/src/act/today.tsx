// Today: what may be cut, what opens when, what asks, what stops. Each with its reason in one sentence.

import { addDays } from '../book/days'
import { refuses, seenHere, untold, type Seen } from '../book/judge'
import { useBook } from '../book/state'
import { today } from '../book/sync'
import { Gate } from '../draw/gate'
import { Helper, Name, Page } from '../parts/page'
import { Stale, Why } from '../parts/verdict'
import { day, fullDay, useWords } from '../words/words'

export function Today() {
  const w = useWords()
  const { known, queue, sent } = useBook()
  const now = today()
  const seen = (known?.checks ?? []).map(c => seenHere(c, known!.on, now, untold(queue, sent, known!.at)))
  const soon = addDays(now, 7)
  const opening = (c: Seen) => c.verdict === 'wait'
  const byDay = (a: Seen, b: Seen) => (a.clear_on ?? '').localeCompare(b.clear_on ?? '')
  const groups: [string, Seen[]][] = [
    [w.today.clear, seen.filter(c => !refuses(c.verdict))],
    [w.today.opens, seen.filter(c => opening(c) && (c.clear_on ?? '9') <= soon).sort(byDay)],
    [w.today.ask, seen.filter(c => c.verdict === 'ask')],
    [w.today.stop, seen.filter(c => c.verdict === 'stop')],
    [w.today.waiting, seen.filter(c => opening(c) && (c.clear_on ?? '9') > soon).sort(byDay)],
  ]
  return (
    <Page title={w.today.title} under={<>{fullDay(w, now)}{known && <> · <Name>{known.farm.name}</Name></>}</>}>
      {known && seen.length === 0 && <p>{w.today.nothing}</p>}
      {groups.filter(([, list]) => list.length > 0).map(([title, list]) => (
        <section class="leaf" key={title}>
          <h2>{title} <span class="count">{list.length}</span></h2>
          <ul class="lines">{list.map(c => <Line key={c.bed_id + c.planting_id} check={c} />)}</ul>
        </section>
      ))}
      <p><a class="go" href="/app/beds">{w.today.plan}</a></p>
      <Stale />
      <Helper />
    </Page>
  )
}

function Line({ check }: { check: Seen }) {
  const w = useWords()
  const may = !refuses(check.verdict)
  return (
    <li class="line">
      <div class="margin"><Gate verdict={check.verdict} /></div>
      <div class="top">
        <p class={'word is-' + check.verdict}>{w.verdict[check.verdict]}</p>
        <h3><a href={'/app/bed/' + check.bed_id}><Name>{check.bed}</Name></a> <span class="crop"><Name>{check.crop}</Name></span></h3>
      </div>
      <div class="body">
        {check.verdict === 'wait' && check.clear_on && <p class="opens">{w.today.opensOn(day(w, check.clear_on))}</p>}
        <Why check={check} />
      </div>
      {may && (
        <a class="go main" href={`/app/cut?bed=${check.bed_id}&planting=${check.planting_id}`} aria-label={w.today.cutThis(check.bed, check.crop)}>{w.today.cut}</a>
      )}
    </li>
  )
}
