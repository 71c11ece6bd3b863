// Water: the field was watered, or the wash water was looked at.

import { useEffect, useState } from 'preact/hooks'
import { remember } from '../book/book'
import { get } from '../book/http'
import { current, useBook } from '../book/state'
import { write } from '../book/sync'
import { BedsField, dayOf, Finish, Hour, Late, momentOf, Numbers, OneOf, tapFor, Text, useDraft, WaterField, YesNoUnknown } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick } from '../parts/pick'
import { go, type Place } from '../route'
import { useWords } from '../words/words'
import { WaterTest } from './watertest'

export function Water({ place }: { place: Place }) {
  const w = useWords()
  const t = w.acts.water
  const [act, setAct] = useState(place.parts[1] ?? '')
  return (
    <Page title={t.title}>
      <Pick legend={t.act} three chosen={[act]} onPick={setAct} choices={[{ id: 'field', label: t.irrigate }, { id: 'wash', label: t.read }, { id: 'test', label: w.mend.more.test }]} />
      {act === 'field' && <Irrigated />}
      {act === 'wash' && <WashWater />}
      {act === 'test' && <WaterTest />}
      {!act && <p><a class="go" href="/app/sources">{t.sources}</a></p>}
      <Helper />
    </Page>
  )
}

function Irrigated() {
  const w = useWords()
  const t = w.acts.water
  const { known, habits } = useBook()
  const [d, put] = useDraft({ source: habits.water ?? '', tap: habits.tap ?? '', beds: habits.bed ? [habits.bed] : [] as string[], method: '', touched: '', at: '', late: '' })
  const [busy, setBusy] = useState(false)
  const uses = ['irrigation-touching', 'irrigation-not-touching']
  const source = known?.sources?.find(s => s.id === d.source && (!s.uses || s.uses.some(u => uses.includes(u))))
  const tap = tapFor(source, d.tap, uses)
  const beds = known?.beds.filter(b => d.beds.includes(b.id)) ?? []
  const missing = [!source && t.need.source, beds.length === 0 && t.need.where, !d.method && t.need.method]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    remember({ water: d.source, tap })
    const { id } = await write({
      path: '/v1/irrigations',
      body: {
        source_id: d.source, ...(tap ? { tap } : {}), ground: { bed_ids: d.beds }, method: d.method, started_at: momentOf(d.at), done_at: undefined,
        ...(d.touched ? { touched_crop: d.touched } : {}), ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
      },
      said: { act: 'water', beds: beds.map(b => b.name), thing: source!.name, on: dayOf(d.at) },
    })
    go('/app/entry/' + id, true)
  }
  return (
    <form onSubmit={done}>
      <WaterField source={source ? d.source : ''} tap={tap} onSource={(source, tap) => put({ source, tap })} uses={uses} />
      <BedsField chosen={d.beds} onChosen={beds => put({ beds })} />
      <OneOf legend={t.method} of={t.methods} value={d.method} onValue={method => put({ method })} />
      <YesNoUnknown legend={t.touched} value={d.touched} onValue={touched => put({ touched })} />
      <Hour legend={w.acts.form.when} value={d.at} onValue={at => put({ at })} />
      <Late on={dayOf(d.at)} value={d.late} onValue={late => put({ late })} />
      <Finish missing={missing} busy={busy} label={w.acts.form.done} />
    </form>
  )
}

interface Product { name: string; kind: string; registration: string; percent: string; specific_gravity?: string; label_low_ppm: string; label_high_ppm: string }
interface Reading { product?: Product; tank?: string }

function WashWater() {
  const w = useWords()
  const t = w.acts.water
  const { known, habits } = useBook()
  const [d, put] = useDraft({ source: habits.water ?? '', tap: habits.tap ?? '', tank: '', ppm: '', ph: '', temperature: '', pulp: '', at: '', late: '' })
  const [last, setLast] = useState<Reading>()
  const [busy, setBusy] = useState(false)
  const uses = ['washing', 'cooling', 'harvest', 'ice']
  const source = known?.sources?.find(s => s.id === d.source && (!s.uses || s.uses.some(u => uses.includes(u))))
  const tap = tapFor(source, d.tap, uses)
  const unit = known?.farm.units === 'metric' ? 'degC' : 'degF'
  // The label's numbers are those of the last reading, until somebody writes down another product at the desk.
  useEffect(() => {
    setLast(undefined)
    if (!source) return
    get<Reading[]>(`/v1/water-treatments?source_id=${source.id}&limit=1`, current().token).then(([newest]) => {
      setLast(newest)
      if (newest?.tank) put({ tank: newest.tank })
    }).catch(() => undefined)
  }, [source?.id])
  const missing = [!source && t.need.source, !d.ppm && !d.ph && !d.temperature && t.need.reading]
  const degrees = (value: string) => ({ value: value.replace(/\.$/, ''), unit })
  const number = (value: string) => value.replace(/\.$/, '')
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    remember({ water: d.source, tap })
    const { id } = await write({
      path: '/v1/water-treatments',
      body: {
        source_id: d.source, ...(tap ? { tap } : {}), ...(d.tank.trim() ? { tank: d.tank.trim() } : {}), taken_at: momentOf(d.at), done_at: undefined,
        ...(d.ppm ? { ppm: number(d.ppm) } : {}), ...(d.ph ? { ph: number(d.ph) } : {}), ...(d.temperature ? { water_temperature: degrees(d.temperature) } : {}),
        ...(d.pulp ? { pulp_temperature: degrees(d.pulp) } : {}), ...(last?.product ? { product: last.product } : {}), ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
      },
      said: { act: 'wash', thing: d.tank.trim() || source!.name, on: dayOf(d.at) },
    })
    go('/app/entry/' + id, true)
  }
  return (
    <form onSubmit={done}>
      <WaterField source={source ? d.source : ''} tap={tap} onSource={(source, tap) => put({ source, tap })} uses={uses} />
      <Numbers fields={[
        { id: 'ppm', label: t.ppm, value: d.ppm, onValue: ppm => put({ ppm }) }, { id: 'ph', label: t.ph, value: d.ph, onValue: ph => put({ ph }) },
        { id: 'temperature', label: t.temperature, value: d.temperature, onValue: temperature => put({ temperature }), unit }, { id: 'pulp', label: t.pulp, value: d.pulp, onValue: pulp => put({ pulp }), unit },
      ]} />
      {source && (last?.product
        ? <p class="note"><b>{t.product}:</b> <Name>{t.sameProduct(last.product.name, last.product.label_low_ppm, last.product.label_high_ppm)}</Name></p>
        : <p class="note">{t.noProduct}</p>)}
      <Text label={w.acts.form.tank} value={d.tank} onValue={tank => put({ tank })} />
      <Hour legend={w.acts.form.when} value={d.at} onValue={at => put({ at })} />
      <Late on={dayOf(d.at)} value={d.late} onValue={late => put({ late })} />
      <Finish missing={missing} busy={busy} label={w.acts.form.done} />
    </form>
  )
}
