// Read the pile: one number for each point, the keys move on to the next point by themselves.

import { useEffect, useState } from 'preact/hooks'
import { remember } from '../book/book'
import { get } from '../book/http'
import { keep, kept } from '../book/keep'
import type { Batch, BatchAnswer } from '../book/records'
import { current, useBook } from '../book/state'
import { instant } from '../book/days'
import { write } from '../book/sync'
import { NumberField, Pad, typed } from '../parts/pad'
import { Helper, Name, Page } from '../parts/page'
import { PicturesField, usePictures } from '../parts/pictures'
import { Pick, Picked } from '../parts/pick'
import { Stale } from '../parts/verdict'
import { go } from '../route'
import { amount, unitName, useWords } from '../words/words'

export function Pile() {
  const w = useWords()
  const { known, habits } = useBook()
  const batches = known?.batches ?? []
  const [id, setId] = useState(habits.batch ?? '')
  const batch = batches.find(b => b.id === id) ?? (batches.length === 1 ? batches[0] : undefined)
  return (
    <Page title={w.pile.title}>
      {known && batches.length === 0 && <p>{w.pile.noneYet}</p>}
      {!batch && batches.length > 0 && (
        <Pick legend={w.pile.which} ruled chosen={[]} onPick={setId} choices={batches.map(b => ({ id: b.id, label: <Name>{b.code}</Name> }))} />
      )}
      {batch && (
        <>
          <Picked label={w.tab.pile} change={w.change} onChange={() => { setId(''); remember({ batch: undefined }) }}><b><Name>{batch.code}</Name></b></Picked>
          <Points key={batch.id} batch={batch} />
          <Standing batch={batch} />
          <p><a class="go" href={'/app/batch/' + batch.id}>{w.acts.batch.open}</a></p>
        </>
      )}
      <Stale />
      <Helper />
    </Page>
  )
}

interface Point { probe: string; value: string }

// pointsFor gives the spots to read: those of the last reading on this phone, of the batch's plan, or three to begin with.
function pointsFor(batch: Batch, first: string[]): Point[] {
  const last = current().habits.pointsOf?.[batch.id]?.map(r => r.probe)
  const planned = batch.points?.flatMap(p => p.names ?? [])
  const names = last?.length ? last : planned?.length ? planned : first
  return names.map(probe => ({ probe, value: '' }))
}

// whole tells that a number can't go on: three digits, or two that no heap could follow with a third.
const whole = (value: string, unit: string) => (unit === 'degF' ? /^1\d\d$|^[2-9]\d$/ : /^\d\d$/).test(value)

function Points({ batch }: { batch: Batch }) {
  const w = useWords()
  const { habits, known } = useBook()
  const unit = known?.farm.units === 'metric' ? 'degC' : 'degF'
  const [points, setPoints] = useState(() => pointsFor(batch, w.pile.points))
  const [at, setAt] = useState(0)
  const [naming, setNaming] = useState<string>()
  const [turning, setTurning] = useState(false)
  const [writing, setWriting] = useState(false)
  const pictures = usePictures()
  // A phone that has not read this pile yet takes the names of its points from the last reading in the book.
  useEffect(() => {
    if (current().habits.pointsOf?.[batch.id]) return
    get<{ readings: { probe: string; temperature: { value: string; unit: string } }[] }[]>(`/v1/compost-temperatures?compost_batch_id=${batch.id}&limit=1`, current().token)
      .then(([newest]) => {
        const names = [...new Set(newest?.readings.map(r => r.probe))].slice(0, 12)
        if (names.length > 0) setPoints(now => (now.some(p => p.value) ? now : names.map(probe => ({ probe, value: '' }))))
      })
      .catch(() => undefined)
  }, [batch.id])
  const last = new Map(habits.pointsOf?.[batch.id]?.map(r => [r.probe, r.value]))
  const point = points[at]!
  const read = points.filter(p => Number(p.value) > 0)

  const put = (i: number, value: string) => setPoints(all => all.map((p, j) => (j === i ? { ...p, value } : p)))
  const press = (key: string) => {
    const value = typed(point.value, key)
    put(at, value)
    if (whole(value, unit) && value.length > point.value.length && at + 1 < points.length) setAt(at + 1)
  }
  const same = last.get(point.probe)
  const done = async (e: Event) => {
    e.preventDefault()
    if (read.length === 0 || writing) return
    setWriting(true)
    const taken = instant()
    const readings = read.map(p => ({ probe: p.probe, value: p.value.replace(/\.$/, ''), unit }))
    const merged = points.map(p => readings.find(r => r.probe === p.probe) ?? { probe: p.probe, value: last.get(p.probe) ?? '', unit })
    remember({ batch: batch.id, pointsOf: { ...current().habits.pointsOf, [batch.id]: merged } })
    const { id } = await write({
      path: `/v1/compost-batches/${batch.id}/temperatures`,
      body: { readings: readings.map(r => ({ taken_at: taken, probe: r.probe, temperature: { value: r.value, unit: r.unit } })) },
      said: { act: 'read', thing: batch.code, readings }, pictures: pictures.taken,
    })
    go('/app/entry/' + id, true)
  }
  const turned = async () => {
    remember({ batch: batch.id })
    const { id } = await write({
      path: `/v1/compost-batches/${batch.id}/turnings`, body: { turned_at: instant() }, said: { act: 'turn', thing: batch.code },
    })
    go('/app/entry/' + id, true)
  }
  const add = () => {
    const probe = naming?.trim()
    if (!probe || points.some(p => p.probe === probe)) return
    setPoints([...points, { probe, value: '' }])
    setAt(points.length)
    setNaming(undefined)
  }

  return (
    <form onSubmit={done}>
      <div class="amounts points">
        {points.map((p, i) => (
          <NumberField key={p.probe} id={'point-' + i} label={<Name>{p.probe}</Name>} value={p.value} on={i === at} onFocus={() => setAt(i)}
            onValue={value => { put(i, value); setAt(i) }}
            after={<span class="unit">{unitName(w, unit)}{last.get(p.probe) ? ', ' + w.pile.last(last.get(p.probe)!) : ''}</span>} />
        ))}
      </div>
      <Pad onKey={press} />
      {same && <button type="button" class="whole" onClick={() => { put(at, same); if (at + 1 < points.length) setAt(at + 1) }}>
        <span><Name>{point.probe}</Name>: {w.pile.same(amount(w, { value: same, unit }))}</span>
      </button>}
      <button class="main whole" disabled={read.length === 0 || writing || pictures.busy}>{writing ? w.cut.writing : w.pile.done}</button>
      <p class="note">{w.pile.hint}</p>
      <PicturesField {...pictures} />
      {naming === undefined
        ? <p class="acts"><button type="button" onClick={() => setNaming('')}>{w.pile.add}</button>
          <button type="button" onClick={() => setTurning(true)}>{w.pile.turned}</button></p>
        : <div><label class="field">{w.pile.name}<input value={naming} onInput={e => setNaming(e.currentTarget.value)} /></label>
          <p class="acts"><button type="button" class="main" onClick={add}>{w.pile.add}</button><button type="button" onClick={() => setNaming(undefined)}>{w.back}</button></p></div>}
      {turning && <div role="alertdialog" aria-label={w.pile.turned}><p><b>{w.pile.turnedSure}</b></p>
        <p class="acts"><button type="button" class="main" onClick={() => void turned()}>{w.pile.turnedYes}</button>
          <button type="button" onClick={() => setTurning(false)}>{w.back}</button></p></div>}
    </form>
  )
}

// Standing is how far the batch has come, by each rule set, as the book last said.
function Standing({ batch }: { batch: Batch }) {
  const w = useWords()
  const { token, sent } = useBook()
  const [answer, setAnswer] = useState<BatchAnswer>()
  useEffect(() => {
    const key = 'batch/' + batch.id
    get<BatchAnswer>('/v1/compost-batches/' + batch.id, token)
      .then(a => { setAnswer(a); void keep(key, a) })
      .catch(() => kept<BatchAnswer>(key).then(setAnswer))
  }, [batch.id, sent])
  if (!answer) return null
  return (
    <section class="leaf">
      <h2>{w.pile.standing[answer.standing] ?? answer.standing}</h2>
      <ul class="plain">
        {answer.process.map(p => (
          <li key={p.set}><b>{w.sets[p.set] ?? p.set}</b>: {w.pile.outcome[p.outcome] ?? p.outcome}. {w.pile.counted(p.counted_days?.length ?? 0, p.turnings_counted ?? 0)}</li>
        ))}
      </ul>
    </section>
  )
}
