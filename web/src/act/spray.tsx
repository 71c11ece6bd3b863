// Spray: which crop protection went where, and the days its label asks for before what stands there may be cut.

import { useState } from 'preact/hooks'
import { isSpray, materialsOf } from '../book/materials'
import { useBook } from '../book/state'
import { today, write } from '../book/sync'
import { CutBefore, saidBefore, useCutsOn } from '../parts/cutbefore'
import { BedsField, Finish, Hour, Late, momentOf, Numbers, OneOf, useDraft, type NumberOf } from '../parts/fields'
import { MaterialPick } from '../parts/material'
import { Helper, Name, Page } from '../parts/page'
import { Pick, Picked } from '../parts/pick'
import { PicturesField, usePictures } from '../parts/pictures'
import { Stale } from '../parts/verdict'
import { When } from '../parts/when'
import { go, type Place } from '../route'
import { useWords } from '../words/words'

const units = ['gal', 'qt', 'lb', 'oz', 'L', 'kg', 'g']

// What is asked is the label of one product for one crop, so nothing is filled in from last time.
export function Spray({ place }: { place: Place }) {
  const w = useWords()
  const t = w.acts.spray
  const { known, habits } = useBook()
  const asked = place.asked.get('bed') ?? habits.bed
  const [d, put] = useDraft({ lot: '', beds: asked ? [asked] : [] as string[], on: today(), method: '', days: '', otherDays: '', hours: '', otherHours: '', ended: '', value: '', unit: units[0]!, late: '', before: [] as string[] })
  const [busy, setBusy] = useState(false)
  const pictures = usePictures()
  const sprays = known ? materialsOf(known).filter(isSpray) : []
  const spray = sprays.find(s => s.id === d.lot)
  const beds = known?.beds.filter(b => d.beds.includes(b.id)) ?? []
  const planted = known?.checks.some(c => d.beds.includes(c.bed_id)) ?? false
  const cuts = useCutsOn(d.beds, d.on)
  const days = d.days === 'other' ? d.otherDays : d.days
  const hours = d.hours === 'other' ? d.otherHours : d.hours
  const labelled = days !== 'unknown' // the label is at hand
  const missing = [!spray && w.spread.needs.what, beds.length === 0 && w.spread.needs.where, !d.method && t.need.method, !days && t.need.days, labelled && !hours && t.need.hours, !(Number(d.value) > 0) && w.spread.needs.howMuch]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || !spray || busy) return
    setBusy(true)
    const amount = { value: d.value.replace(/\.$/, ''), unit: d.unit }
    const { id } = await write({
      path: '/v1/applications',
      body: {
        source: spray.source, ground: { bed_ids: d.beds }, applied_on: d.on, amount, method: d.method,
        ...(labelled ? { days_to_harvest: Number(days), restricted_entry_hours: Number(hours) } : {}), ...(d.on === today() ? { ended_at: momentOf(d.ended) } : {}),
        ...(planted ? { touched_crop: d.method === 'foliar' ? 'yes' : 'no' } : {}),
        ...saidBefore(cuts, d.before), ...(d.on === today() ? {} : { done_at: undefined }), ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
      },
      said: { act: 'spray', beds: beds.map(b => b.name), thing: spray.name, quantity: amount, on: d.on },
      touches: { bed_ids: d.beds, what: spray.name, on: d.on }, pictures: pictures.taken,
    })
    go('/app/entry/' + id, true)
  }
  const amount: NumberOf = { id: 'amount', label: t.howMuch, value: d.value, onValue: value => put({ value }), unit: d.unit, units, onUnit: unit => put({ unit }) }
  const other: NumberOf = { id: 'days', label: t.days, value: d.otherDays, onValue: otherDays => put({ otherDays }), point: false, after: t.daysUnit }
  const otherHours: NumberOf = { id: 'hours', label: t.hours, value: d.otherHours, onValue: otherHours => put({ otherHours }), point: false, after: t.hoursUnit }
  return (
    <Page title={t.title}>
      {known && sprays.length === 0 && <p>{t.none} <a class="go" href="/app/deliver">{w.mend.deliver.title}</a></p>}
      {sprays.length > 0 && (
        <form onSubmit={done}>
          {spray
            ? <Picked label={w.spread.what} change={w.change} onChange={() => put({ lot: '' })}><b><Name>{spray.name}</Name></b></Picked>
            : <MaterialPick legend={t.what} of={sprays} onPick={lot => put({ lot })} />}
          <BedsField chosen={d.beds} on={d.on} onChosen={beds => put({ beds })} />
          <When legend={w.spread.when} value={d.on} onValue={on => put({ on })} />
          <CutBefore of={cuts} chosen={d.before} onChosen={before => put({ before })} />
          <OneOf legend={t.method} of={t.methods} value={d.method} onValue={method => put({ method })} />
          <Pick legend={t.days} three chosen={[d.days]} onPick={days => put({ days })}
            choices={[...['0', '1', '3', '7'].map(n => ({ id: n, label: t.dayCount(Number(n)) })), { id: 'other', label: t.other }, { id: 'unknown', label: t.noLabel }]} />
          {labelled
            ? <Pick legend={t.hours} three chosen={[d.hours]} onPick={hours => put({ hours })}
              choices={[...['0', '4', '12', '24', '48'].map(n => ({ id: n, label: t.hourCount(Number(n)) })), { id: 'other', label: t.other }]} />
            : <p class="why">{t.unknown}</p>}
          {d.on === today() && <Hour legend={t.ended} value={d.ended} onValue={ended => put({ ended })} />}
          <Numbers fields={[...(d.days === 'other' ? [other] : []), ...(labelled && d.hours === 'other' ? [otherHours] : []), amount]} />
          <p class="note">{t.caution}</p>
          <Late on={d.on} value={d.late} onValue={late => put({ late })} />
          <PicturesField {...pictures} hint={t.picture} />
          <Finish missing={missing} busy={busy || pictures.busy} label={t.done} />
        </form>
      )}
      <Stale />
      <Helper />
    </Page>
  )
}
