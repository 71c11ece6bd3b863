// How a record came about: who wrote it down, who changed what and why, oldest first, with what stood there before.

import { useAnswer } from '../book/now'
import type { Known } from '../book/state'
import { dayIn, timeIn } from '../book/days'
import { day, useWords } from '../words/words'
import { Far } from './far'
import { nameOf, sayField } from './facts'
import { Name } from './page'

interface Entry { seq: number; kind: string; body: Record<string, unknown>; done_by: string; typed_by: string; done_on: string; entered_at: string; reason?: string }

export function History({ path, id, known }: { path: string; id: string; known?: Known }) {
  const w = useWords()
  const t = w.mend.mend
  const entries = useAnswer<Entry[]>(`/v1/${path}/${id}/history`)
  let before: Record<string, unknown> = {}
  const told = (entries.value ?? []).map(e => {
    const changes = e.kind === 'correction' ? (e.body.changes as Record<string, unknown>) : {}
    const rows = Object.keys(changes).map(key => ({ key, was: sayField(w, known, key, before[key], before.sheet), now: sayField(w, known, key, changes[key], before.sheet) }))
    before = e.kind === 'correction' ? (e.body.record as Record<string, unknown>) : Object.keys(before).length > 0 ? before : e.body
    return { e, rows }
  })
  const act = (kind: string, i: number) => (i === 0 ? t.written : { correction: t.corrected, void: t.voidedAct, review: t.signed, 'hold-release': w.mend.mend.fields.released }[kind] ?? t.other)
  return (
    <section class="leaf">
      <h2>{t.history}</h2>
      <Far of={entries} />
      <ol class="steps">
        {told.map(({ e, rows }, i) => (
          <li key={e.seq}>
            <p><b>{act(e.kind, i)}</b>, <Name>{nameOf(known, e.done_by) ?? ''}</Name>, {day(w, dayIn(known?.farm.time_zone, new Date(e.entered_at)))} {timeIn(known?.farm.time_zone, new Date(e.entered_at))}</p>
            {e.typed_by !== e.done_by && <p class="cite"><Name>{t.typed(nameOf(known, e.typed_by) ?? '')}</Name></p>}
            {rows.map(r => (
              <p key={r.key}><b>{t.fields[r.key] ?? r.key}:</b> {t.was} <Name>{r.was || t.nothing}</Name>, {t.is} <b><Name>{r.now || t.nothing}</Name></b></p>
            ))}
            {e.reason && <p>{t.reason}: <Name>{e.reason}</Name></p>}
          </li>
        ))}
      </ol>
    </section>
  )
}
