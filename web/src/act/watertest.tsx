// The result of a water test, from the lab's paper: one sample, E. coli and total coliform, with a picture of the paper.

import { useEffect, useState } from 'preact/hooks'
import { remember } from '../book/book'
import { get } from '../book/http'
import { current, useBook } from '../book/state'
import { today, writeAll } from '../book/sync'
import { Finish, Late, momentOf, OneOf, Text, useDraft, WaterField } from '../parts/fields'
import { PicturesField, usePictures } from '../parts/pictures'
import { draftOf, lacksNumber, ResultField, resultOf } from '../parts/result'
import { When } from '../parts/when'
import { go } from '../route'
import { useWords } from '../words/words'

const analytes = { ecoli: 'generic E. coli', coliform: 'total coliform' } as const
const uses = ['irrigation-touching', 'irrigation-not-touching', 'harvest', 'washing', 'cooling', 'ice', 'hands', 'cleaning']

export function WaterTest() {
  const w = useWords()
  const t = w.mend.test
  const { known, habits } = useBook()
  const [d, put] = useDraft({
    source: habits.water ?? '', tap: habits.tap ?? '', on: today(), hour: '', what: 'both', ecoli: draftOf(undefined), coliform: draftOf(undefined), lab: '', method: '', reported: '', late: '',
  })
  const [busy, setBusy] = useState(false)
  const pictures = usePictures()
  const source = known?.sources?.find(s => s.id === d.source)
  // The farm sends to the same lab as last time, as a rule.
  useEffect(() => {
    get<{ lab?: string; method?: string }[]>('/v1/water-tests?limit=1', current().token).then(([last]) => last && put({ lab: d.lab || (last.lab ?? ''), method: d.method || (last.method ?? '') })).catch(() => undefined)
  }, [])
  const asked = (['ecoli', 'coliform'] as const).filter(a => d.what === 'both' || d.what === a)
  const missing = [
    !source && t.need.source, !d.hour && t.need.sampled,
    ...asked.flatMap(a => [!d[a].kind && `${t.need.result} (${t[a]})`, lacksNumber(d[a]) && `${t.need.number} (${t[a]})`]),
  ]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    remember({ water: d.source, tap: d.tap })
    const { ids } = await writeAll(asked.map(a => {
      const result = resultOf(d[a])
      return {
        path: '/v1/water-tests', pictures: pictures.taken,
        body: {
          source_id: d.source, ...(d.tap ? { tap: d.tap } : {}), sampled_at: momentOf(`${d.on}T${d.hour}`), analyte: analytes[a], done_at: undefined, ...(result ? { result } : {}),
          ...(result && d.reported ? { reported_at: momentOf(d.reported + 'T23:59') } : {}), ...(d.lab.trim() ? { lab: d.lab.trim() } : {}), ...(d.method.trim() ? { method: d.method.trim() } : {}),
          ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
        },
        said: { act: 'test', thing: `${source!.name}, ${t[a]}`, on: d.on },
      }
    }))
    go('/app/entry/' + ids[0]!, true)
  }
  return (
    <form onSubmit={done}>
      <WaterField source={source ? d.source : ''} tap={d.tap} onSource={(source, tap) => put({ source, tap })} uses={uses} />
      <When legend={t.sampled} value={d.on} onValue={on => put({ on })} />
      <Text kind="time" label={t.hour} value={d.hour} onValue={hour => put({ hour })} />
      <OneOf legend={t.what} of={{ both: t.both, ecoli: t.ecoli, coliform: t.coliform }} value={d.what} onValue={what => put({ what })} />
      {asked.map(a => <ResultField key={a} id={a} what={t[a]} value={d[a]} onValue={r => put({ [a]: r })} />)}
      {d.what !== 'ecoli' && <p class="note">{t.only}</p>}
      <PicturesField {...pictures} hint={t.paper} />
      <Text label={t.lab} value={d.lab} onValue={lab => put({ lab })} />
      <Text label={t.method} value={d.method} onValue={method => put({ method })} />
      <Text kind="date" label={t.reported} value={d.reported} onValue={reported => put({ reported })} />
      <Late on={d.on} value={d.late} onValue={late => put({ late })} />
      <Finish missing={missing} busy={busy || pictures.busy} label={t.done} />
    </form>
  )
}
