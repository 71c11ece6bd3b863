// The second signature: what a rule or the farm's own sheet asks for, to look at and sign in one go. It is done with a
// connection only, because nobody signs what somebody has corrected meanwhile.

import { useState } from 'preact/hooks'
import { newId } from '../book/id'
import { doNow, useAnswer } from '../book/now'
import type { TwoTongues } from '../book/records'
import { useBook } from '../book/state'
import { Facts, inTongue, nameOf } from '../parts/facts'
import { Helper, Name, Page } from '../parts/page'
import { Far } from '../parts/far'
import { day, useWords } from '../words/words'
import { toggled } from '../parts/pick'

interface Waiting {
  family: string
  name: TwoTongues
  kind: string
  id: string
  asks: { authority: string; citation: string }
  late_on: string
  may_sign: boolean
  why_not?: string
  record: Record<string, unknown> & { done_by?: string; done_on?: string; sheet?: string }
}

export function Sign() {
  const w = useWords()
  const t = w.acts.sign
  const { known } = useBook()
  const queue = useAnswer<Waiting[]>('/v1/reviews')
  const [picked, setPicked] = useState<string[]>([])
  const [told, setTold] = useState('')
  const [busy, setBusy] = useState(false)
  const list = queue.value ?? []
  const mine = list.filter(x => x.may_sign)
  const families = [...new Set(list.map(x => x.family))]
  const chosen = mine.filter(x => picked.includes(x.id))
  const sign = async () => {
    if (busy || chosen.length === 0) return
    setBusy(true)
    const done = await doNow<unknown[]>('/v1/reviews', { records: chosen.map(x => ({ kind: x.kind, id: x.id })) }, newId())
    setBusy(false)
    setTold('written' in done ? t.signed(chosen.length) : 'problem' in done ? done.problem.detail : w.acts.form.online)
    if ('written' in done) { setPicked([]); queue.again() }
  }
  return (
    <Page title={t.title} under={t.lead}>
      <Far of={queue} />
      {told && <p class="why" role="status"><bdi>{told}</bdi></p>}
      {queue.value && list.length === 0 && <p>{t.none}</p>}
      {mine.length > 1 && <p class="acts"><button type="button" onClick={() => setPicked(chosen.length === mine.length ? [] : mine.map(x => x.id))}>{chosen.length === mine.length ? t.pickNone : t.pickAll}</button></p>}
      {families.map(family => {
        const here = list.filter(x => x.family === family)
        return (
          <section class="leaf" key={family}>
            <h2>{inTongue(here[0]!.name)} <span class="count">{here.length}</span></h2>
            <p class="cite">{t.asks}: {w.authority[here[0]!.asks.authority as keyof typeof w.authority] ?? here[0]!.asks.authority}, {here[0]!.asks.citation}</p>
            <ul class="plain">
              {here.map(x => (
                <li key={x.id}>
                  <p><b><Name>{t.by(nameOf(known, x.record.done_by ?? '') ?? '', day(w, x.record.done_on ?? ''))}</Name></b>{x.late_on < (known?.on ?? '') && <> · {t.late(day(w, x.late_on))}</>}</p>
                  <Facts record={x.record} known={known} />
                  {x.may_sign
                    ? <label class="tick"><input type="checkbox" checked={picked.includes(x.id)} onChange={() => setPicked(toggled(picked, x.id))} /> {t.take}</label>
                    : <p class="note" lang="en"><bdi>{x.why_not}</bdi></p>}
                </li>
              ))}
            </ul>
          </section>
        )
      })}
      {chosen.length > 0 && <p class="stays"><button type="button" class="main whole" disabled={busy} onClick={() => void sign()}>{busy ? w.working : t.all(chosen.length)}</button></p>}
      <Helper />
    </Page>
  )
}
