// Spread: what went on the ground, where, when, and whether it was worked in. The last is what the waiting days hang on.

import { useState } from 'preact/hooks'
import { remember } from '../book/book'
import { isSpray, materialsOf } from '../book/materials'
import { useBook } from '../book/state'
import { today, write } from '../book/sync'
import { CutBefore, saidBefore, useCutsOn } from '../parts/cutbefore'
import { MaterialPick } from '../parts/material'
import { NumberField, Pad, typed } from '../parts/pad'
import { Helper, Name, Page } from '../parts/page'
import { PicturesField, usePictures } from '../parts/pictures'
import { Pick, Picked, toggled } from '../parts/pick'
import { Stale } from '../parts/verdict'
import { When } from '../parts/when'
import { go, type Place } from '../route'
import { unitName, useWords } from '../words/words'

const units = ['yd3', 'gal', 'lb', 'bu', 'm3', 'kg', 'L']

export function Spread({ place }: { place: Place }) {
  const w = useWords()
  const { known, habits } = useBook()
  const sources = known ? materialsOf(known).filter(m => !isSpray(m)) : []
  const [source, setSource] = useState(habits.source ?? '')
  const asked = place.asked.get('bed') ?? habits.bed
  const [beds, setBeds] = useState<string[]>(asked ? [asked] : [])
  const [pickingBeds, setPickingBeds] = useState(false)
  const [on, setOn] = useState(today())
  const [worked, setWorked] = useState('') // '', 'same', 'not', 'other'
  const [workedOn, setWorkedOn] = useState(today())
  const [touched, setTouched] = useState('')
  const [before, setBefore] = useState<string[]>([])
  const [value, setValue] = useState('')
  const [unit, setUnit] = useState(habits.amountUnit ?? 'yd3')
  const [pickingUnit, setPickingUnit] = useState(false)
  const [writing, setWriting] = useState(false)
  const pictures = usePictures()

  const what = sources.find(s => s.id === source)
  const inForce = known?.beds.filter(b => !b.to || b.to > on) ?? []
  const chosen = inForce.filter(b => beds.includes(b.id))
  const planted = known?.checks.some(c => beds.includes(c.bed_id)) ?? false
  const cuts = useCutsOn(beds, on)
  const missing = [
    !what && w.spread.needs.what, chosen.length === 0 && w.spread.needs.where, !worked && w.spread.needs.worked,
    planted && !touched && w.spread.needs.touched, !(Number(value) > 0) && w.spread.needs.howMuch,
  ].filter(Boolean) as string[]

  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.length > 0 || !what || writing) return
    setWriting(true)
    remember({ source, bed: chosen[0]!.id, amountUnit: unit })
    const incorporated = worked === 'same' ? on : worked === 'other' ? workedOn : undefined
    const amount = { value: value.replace(/\.$/, ''), unit }
    const liquid = what.category === 'compost-tea' || what.category === 'manure-tea'
    const { id } = await write({
      path: '/v1/applications',
      body: {
        source: what.source, ground: { bed_ids: chosen.map(b => b.id) }, applied_on: on, amount,
        method: incorporated ? 'incorporated' : liquid ? 'drench' : 'surface',
        ...(incorporated ? { incorporated_on: incorporated } : {}), ...(planted ? { touched_crop: touched } : {}),
        ...saidBefore(cuts, before), ...(on === today() ? {} : { done_at: undefined }), // the hour is not known
      },
      said: { act: 'spread', beds: chosen.map(b => b.name), thing: what.name, quantity: amount, on },
      touches: what.manure ? { bed_ids: chosen.map(b => b.id), what: what.name, on } : undefined, pictures: pictures.taken,
    })
    go('/app/entry/' + id, true)
  }

  return (
    <Page title={w.spread.title}>
      {known && sources.length === 0 && <p>{w.spread.noSources}</p>}
      {known && sources.length > 0 && (
        <form onSubmit={done}>
          {what
            ? <Picked label={w.spread.what} change={w.change} onChange={() => setSource('')}><b><Name>{what.name}</Name></b></Picked>
            : <MaterialPick legend={w.spread.pickWhat} of={sources} onPick={setSource} />}
          {chosen.length > 0 && !pickingBeds
            ? <Picked label={w.spread.where} change={w.change} onChange={() => setPickingBeds(true)}><b><Name>{chosen.map(b => b.name).join(', ')}</Name></b></Picked>
            : <>
              {known.plots.map(plot => {
                const here = inForce.filter(b => b.plot_id === plot.id).sort((a, b) => a.name.localeCompare(b.name, undefined, { numeric: true }))
                return here.length > 0 && (
                  <Pick key={plot.id} legend={<Name>{plot.name}</Name>} chosen={beds} choices={here.map(b => ({ id: b.id, label: <Name>{b.name}</Name> }))}
                    onPick={id => { setBeds(toggled(beds, id)); setPickingBeds(true) }} />
                )
              })}
              {chosen.length > 0 && <p><button type="button" class="main" onClick={() => setPickingBeds(false)}>{w.done}: {w.spread.picked(chosen.length)}</button></p>}
            </>}
          <When legend={w.spread.when} value={on} onValue={setOn} />
          <CutBefore of={cuts} chosen={before} onChosen={setBefore} />
          <Pick legend={w.spread.worked} three chosen={[worked]} onPick={setWorked}
            choices={[{ id: 'same', label: w.spread.workedSame }, { id: 'not', label: w.spread.workedNot }, { id: 'other', label: w.spread.workedOther }]} />
          {worked === 'other' && <When legend={w.spread.workedOther} value={workedOn} onValue={setWorkedOn} from={on} />}
          {what?.manure && <p class="note">{w.spread.rawNote}</p>}
          {planted && <Pick legend={w.spread.touched} three chosen={[touched]} onPick={setTouched}
            choices={[{ id: 'no', label: w.spread.no }, { id: 'yes', label: w.spread.yes }, { id: 'unknown', label: w.spread.unknown }]} />}
          {pickingUnit
            ? <Pick legend={w.cut.unit} choices={units.map(u => ({ id: u, label: unitName(w, u) }))} chosen={[unit]} onPick={u => { setUnit(u); setPickingUnit(false) }} />
            : <div class="amounts one"><NumberField id="amount" label={w.spread.howMuch} value={value} onValue={setValue} on
              after={<button type="button" class="unit" onClick={() => setPickingUnit(true)}>{unitName(w, unit)}<span class="unseen"> {w.change} {w.cut.unit}</span></button>} /></div>}
          <Pad onKey={key => setValue(v => typed(v, key))} />
          <PicturesField {...pictures} />
          {missing.length > 0 && <p class="note" role="status">{w.spread.need}{missing.join(' · ')}</p>}
          <button class="main whole" disabled={missing.length > 0 || writing || pictures.busy}>{writing ? w.cut.writing : w.spread.done}</button>
        </form>
      )}
      <Stale />
      <Helper />
    </Page>
  )
}
