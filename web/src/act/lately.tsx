// Written lately: what anybody wrote last, so that a slip is found while it is still warm.

import { dayIn, timeIn } from '../book/days'
import { kindOfPath, mendKinds, recordOf } from '../book/kinds'
import { useAnswer } from '../book/now'
import type { Quantity } from '../book/records'
import { useBook } from '../book/state'
import { EntryLine } from '../parts/entryline'
import { Far } from '../parts/far'
import { nameOf } from '../parts/facts'
import { Helper, Name, Page } from '../parts/page'
import { amount, day, useWords } from '../words/words'
import { gist, kindName } from './mend'

interface Line { seq: number; kind: string; record_id: string; body: Record<string, unknown>; done_by: string; entered_at: string }

const most = 80

export function Lately() {
  const w = useWords()
  const t = w.mend.lately
  const { known, sent } = useBook()
  const lines = useAnswer<Line[]>(`/v1/book/entries?newest=true&limit=${most}`)
  const far = lines.far
  const zone = known?.farm.time_zone
  const days = new Map<string, ReturnType<typeof shown>>()
  for (const l of shown(lines.value ?? [])) {
    const on = dayIn(zone, new Date(l.at))
    days.set(on, [...(days.get(on) ?? []), l])
  }
  return (
    <Page title={t.title} under={t.lead}>
      {!far && !lines.value && <Far of={lines} />}
      {lines.value && days.size === 0 && <p>{t.none}</p>}
      {[...days].map(([on, list]) => (
        <section class="leaf" key={on}>
          <h2>{capital(day(w, on))}</h2>
          <ul class="acts-list">
            {list.map(l => (
              <li key={l.id}>
                <a href={`/app/mend/${mendKinds[l.kind]!.path}/${l.id}`}>
                  <b>{kindName(w, known, l.kind, l.body)}</b> <Name>{gist(known, l.body)}</Name>{how(l.body) && <>, {amount(w, how(l.body)!)}</>}
                  <span><Name>{t.by(nameOf(known, l.by) ?? '', timeIn(zone, new Date(l.at)))}</Name>{l.act === 'correction' && <>, {w.mend.mend.corrected}</>}{l.act === 'void' && <>, {w.mend.mend.voidedAct}</>}</span>
                </a>
              </li>
            ))}
          </ul>
        </section>
      ))}
      {far && (
        <>
          <p class="stale" role="status">{t.fromPhone}</p>
          <ul class="plain">
            {sent.filter(n => recordOf(n.entry)).map(n => (
              <li key={n.id} class="sent"><EntryLine said={n.entry.said} /><a class="go" href={recordOf(n.entry)}>{t.look}<span class="unseen"> {n.entry.said.thing}</span></a></li>
            ))}
          </ul>
        </>
      )}
      <Helper />
    </Page>
  )
}

const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1)

// how gives how much it was, if the record says so.
const how = (body: Record<string, unknown>): Quantity | undefined => (body.quantity ?? body.amount) as Quantity | undefined

interface Shown { id: string; kind: string; act: string; at: string; by: string; body: Record<string, unknown> }

// shown gives one line for each record, by its latest entry, newest first. A void tells what it made void.
function shown(lines: Line[]): Shown[] {
  const out = new Map<string, Shown>()
  for (const l of lines) {
    const kind = String(l.kind === 'correction' || l.kind === 'void' ? l.body.record_kind : l.kind)
    if (!kindOfPath(mendKinds[kind]?.path ?? '')) continue
    const body = l.kind === 'correction' ? (l.body.record as Record<string, unknown>) : l.kind === 'void' ? out.get(l.record_id)?.body ?? {} : l.body
    out.delete(l.record_id)
    out.set(l.record_id, { id: l.record_id, kind, act: l.kind, at: l.entered_at, by: l.done_by, body })
  }
  return [...out.values()].reverse()
}
