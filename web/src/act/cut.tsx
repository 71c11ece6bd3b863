// Cut and label: bed, crop, how much, done. What the last cut was like is where the next one starts.

import { useEffect, useState } from 'preact/hooks'
import { remember } from '../book/book'
import { refuses, seenHere, untold, type Seen } from '../book/judge'
import { refresh } from '../book/known'
import { verdicts } from '../book/records'
import { current, useBook } from '../book/state'
import { today, write } from '../book/sync'
import { NumberField, Pad, typed } from '../parts/pad'
import { Helper, Name, Page } from '../parts/page'
import { Pick, Picked } from '../parts/pick'
import { Reasons, Stale, VerdictWord, Why } from '../parts/verdict'
import { go, type Place } from '../route'
import { unitName, useWords } from '../words/words'

const units = ['bunch', 'lb', 'head', 'each', 'crate', 'case', 'kg', 'bu']

export function Cut({ place }: { place: Place }) {
  const w = useWords()
  const { known, queue, sent, habits } = useBook()
  const seen = (known?.checks ?? []).map(c => seenHere(c, known!.on, today(), untold(queue, sent, known!.at)))
  const [bed, setBed] = useState(place.asked.get('bed') ?? habits.bed ?? '')
  const [planting, setPlanting] = useState(place.asked.get('planting') ?? habits.planting ?? '')
  const [already, setAlready] = useState(false)
  useEffect(() => void refresh(), []) // the judgement should be fresh where there is signal

  const here = seen.filter(c => c.bed_id === bed)
  const chosen = here.find(c => c.planting_id === planting) ?? (here.length === 1 ? here[0] : undefined)
  const pickBed = (id: string) => { setBed(id); setPlanting(''); setAlready(false) }
  return (
    <Page title={w.cut.title}>
      {known && here.length === 0 && <Beds seen={seen} onPick={pickBed} />}
      {here.length > 0 && !chosen && (
        <>
          <Picked label={w.cut.cutOn} change={w.change} onChange={() => pickBed('')}><Name>{here[0]!.bed}</Name></Picked>
          <Pick legend={w.cut.crop} ruled chosen={[]} onPick={setPlanting}
            choices={here.map(c => ({ id: c.planting_id, label: <Name>{c.crop}</Name>, under: <span class="of"><VerdictWord verdict={c.verdict} /></span> }))} />
        </>
      )}
      {chosen && (
        <>
          <Picked label={w.cut.cutOn} change={w.change} onChange={() => pickBed('')}>
            <b><Name>{chosen.bed}</Name></b>, <Name>{chosen.crop}</Name>
          </Picked>
          {refuses(chosen.verdict) && !already
            ? <NotClear check={chosen} onOther={() => pickBed('')} onAlready={() => setAlready(true)} />
            : <HowMuch key={chosen.planting_id} check={chosen} already={already} />}
        </>
      )}
      <Stale />
      <Helper />
    </Page>
  )
}

function Beds({ seen, onPick }: { seen: Seen[]; onPick: (id: string) => void }) {
  const w = useWords()
  if (seen.length === 0) return <p>{w.today.nothing}</p>
  const beds = new Map<string, Seen[]>()
  for (const c of seen) beds.set(c.bed_id, [...(beds.get(c.bed_id) ?? []), c])
  // What may be cut comes first; the rest stays, because somebody may have cut it already.
  const best = (list: Seen[]) => Math.min(...list.map(c => verdicts.indexOf(c.verdict)))
  const choices = [...beds.values()].sort((a, b) => best(a) - best(b)).map(list => ({
    id: list[0]!.bed_id,
    label: <Name>{list[0]!.bed}</Name>,
    under: list.map(c => <span key={c.planting_id} class="of"><VerdictWord verdict={c.verdict} /> <Name>{c.crop}</Name></span>),
  }))
  return <Pick legend={w.cut.which} ruled choices={choices} chosen={[]} onPick={onPick} />
}

function NotClear({ check, onOther, onAlready }: { check: Seen; onOther: () => void; onAlready: () => void }) {
  const w = useWords()
  return (
    <section class="refusal">
      <h2><VerdictWord verdict={check.verdict} /> {w.cut.notClear(check.bed, check.crop)}</h2>
      {check.careful && <Why check={check} />}
      <Reasons reasons={check.reasons.filter(r => refuses(r.verdict))} />
      <p class="acts">
        <button type="button" class="main" onClick={onOther}>{w.cut.other}</button>
        <button type="button" onClick={onAlready}>{w.cut.already}</button>
      </p>
    </section>
  )
}

function HowMuch({ check, already }: { check: Seen; already: boolean }) {
  const w = useWords()
  const { habits } = useBook()
  const [value, setValue] = useState('')
  const [crates, setCrates] = useState('')
  const [field, setField] = useState<'value' | 'crates'>('value')
  const [unit, setUnit] = useState(habits.unitOf?.[check.crop] ?? 'bunch')
  const [picking, setPicking] = useState(false)
  const [writing, setWriting] = useState(false)

  const done = async (e: Event) => {
    e.preventDefault()
    if (!(Number(value) > 0) || writing) return
    setWriting(true)
    const known = current().habits
    remember({ bed: check.bed_id, planting: check.planting_id, unitOf: { ...known.unitOf, [check.crop]: unit } })
    const quantity = { value: value.replace(/\.$/, ''), unit }
    const { id } = await write({
      path: '/v1/harvest-lots',
      body: {
        planting_id: check.planting_id, bed_ids: [check.bed_id], cut_on: today(), quantity,
        ...(Number(crates) > 0 ? { containers: Number(crates) } : {}), ...(already ? { already_cut: true } : {}),
      },
      said: { act: 'cut', beds: [check.bed], thing: check.crop, quantity, already },
    })
    go('/app/entry/' + id, true)
  }
  if (picking) {
    return <Pick legend={w.cut.unit} choices={units.map(u => ({ id: u, label: unitName(w, u) }))} chosen={[unit]} onPick={u => { setUnit(u); setPicking(false) }} />
  }
  return (
    <form onSubmit={done}>
      {already ? <p class="why">{w.cut.alreadyWhy}</p> : check.verdict === 'caution' && <Reasons reasons={check.reasons.filter(r => r.verdict === 'caution')} />}
      <div class="amounts">
        <NumberField id="amount" label={w.cut.howMuch} value={value} onValue={setValue} on={field === 'value'} onFocus={() => setField('value')}
          after={<button type="button" class="unit" onClick={() => setPicking(true)}>{unitName(w, unit)}<span class="unseen"> {w.change} {w.cut.unit}</span></button>} />
        <NumberField id="crates" label={w.cut.crates} value={crates} point={false} onValue={setCrates} on={field === 'crates'} onFocus={() => setField('crates')} />
      </div>
      <Pad point={field === 'value'} onKey={key => (field === 'value' ? setValue(v => typed(v, key)) : setCrates(v => typed(v, key, false)))} />
      <button class="main whole" disabled={!(Number(value) > 0) || writing}>{writing ? w.cut.writing : already ? w.cut.doneAlready : w.cut.done}</button>
    </form>
  )
}
