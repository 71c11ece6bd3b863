// Asking for the right value of one field of a record, beginning with what stands there.

import { useState } from 'preact/hooks'
import { instant } from '../book/days'
import { isSprayed, type How } from '../book/kinds'
import { isSpray, materialsOf } from '../book/materials'
import type { Quantity } from '../book/records'
import { useBook } from '../book/state'
import { today } from '../book/sync'
import { CutBefore, useCutsOn } from '../parts/cutbefore'
import { BedsField, Numbers, OneOf, tapFor, tapsOf, Text, YesNoUnknown } from '../parts/fields'
import { MaterialPick } from '../parts/material'
import { Name } from '../parts/page'
import { Pick, toggled } from '../parts/pick'
import { draftOf, lacksNumber, ResultField, resultOf, type ResultDraft, type WaterResult } from '../parts/result'
import { useWords } from '../words/words'
import { Values } from './log'

type Fields = Record<string, unknown>

const localOf = (at: unknown): string => (typeof at === 'string' ? instant(new Date(at)).slice(0, 16) : '')
const trimmed = (v: string) => v.replace(/\.$/, '')

interface RightProps { how: How; label: string; was: unknown; record: Fields; onValue: (v: unknown) => void }

// Right asks for the right value of a field, beginning with what stands there. It gives null where a value is taken away.
export function Right({ how, label, was, record, onValue }: RightProps) {
  const w = useWords()
  const { known } = useBook()
  const [text, setText] = useState(() => textOf(how, was))
  const [list, setList] = useState<string[]>(() => (how === 'beds' || how === 'crew' || how === 'cuts' ? (was as string[] | undefined) ?? [] : how === 'ground' ? ((was as { bed_ids?: string[] })?.bed_ids ?? []) : []))
  const [readings, setReadings] = useState(() => (how === 'readings' ? (was as Reading[]) : []))
  const [result, setResult] = useState<ResultDraft>(() => draftOf(how === 'result' ? (was as WaterResult | undefined) : undefined))
  const put = (v: string, value: unknown) => { setText(v); onValue(value) }
  switch (how) {
    case 'day': return <label class="field">{label}<input type="date" max={today()} value={text} onInput={e => put(e.currentTarget.value, e.currentTarget.value || null)} /></label>
    case 'moment': return <label class="field">{label}<input type="datetime-local" value={text} onInput={e => put(e.currentTarget.value, e.currentTarget.value ? instant(new Date(e.currentTarget.value)) : undefined)} /></label>
    case 'quantity': {
      const unit = (was as Quantity | undefined)?.unit ?? (record.water_temperature as Quantity | undefined)?.unit ?? 'degF'
      return <Numbers fields={[{ id: 'right', label, value: text, unit, onValue: v => put(v, Number(v) > 0 ? { value: trimmed(v), unit } : undefined) }]} />
    }
    case 'decimal': return <Numbers fields={[{ id: 'right', label, value: text, onValue: v => put(v, v ? trimmed(v) : undefined) }]} />
    case 'count': return <Numbers fields={[{ id: 'right', label, value: text, point: false, onValue: v => put(v, v ? Number(v) : undefined) }]} />
    case 'beds': return <BedsField chosen={list} onChosen={ids => { setList(ids); onValue(ids.length > 0 ? ids : undefined) }} />
    case 'ground': return <BedsField chosen={list} onChosen={ids => { setList(ids); onValue(ids.length > 0 ? { bed_ids: ids } : undefined) }} />
    case 'touched': return <YesNoUnknown legend={label} value={text} onValue={v => put(v, v)} />
    case 'seen': return <OneOf legend={label} of={w.acts.seen.kinds} value={text} onValue={v => put(v, v)} />
    case 'method': return <OneOf legend={label} of={w.acts.water.methods} value={text} onValue={v => put(v, v)} />
    case 'paper': return <Text label={label} value={text} onValue={v => put(v, v.trim() ? { ...(was as object), number: v.trim() } : undefined)} />
    case 'readings': return <Numbers fields={readings.map((r, i) => ({
      id: 'right-' + i, label: <Name>{r.probe}</Name>, value: r.temperature.value, unit: r.temperature.unit,
      onValue: (v: string) => {
        const next = readings.map((x, j) => (j === i ? { ...x, temperature: { ...x.temperature, value: v } } : x))
        setReadings(next)
        onValue(next.every(x => Number(x.temperature.value) > 0) ? next.map(x => ({ ...x, temperature: { ...x.temperature, value: trimmed(x.temperature.value) } })) : undefined)
      },
    }))} />
    case 'result': return <ResultField id="right" pending={false} what={String(record.analyte ?? '')} value={result} onValue={r => { setResult(r); onValue(lacksNumber(r) ? undefined : resultOf(r)) }} />
    case 'material': return <MaterialRight label={label} was={was} record={record} onValue={onValue} />
    case 'water': return <WaterRight label={label} record={record} onValue={onValue} />
    case 'buyer': return <Pick legend={label} ruled chosen={[text]} onPick={id => put(id, id)} choices={(known?.customers ?? []).map(c => ({ id: c.id, label: <Name>{c.name}</Name> }))} />
    case 'crew': return <Pick legend={label} chosen={list} choices={(known?.people ?? []).filter(p => p.role !== 'reader').map(p => ({ id: p.id, label: <Name>{p.name}</Name> }))}
      onPick={id => { const next = toggled(list, id); setList(next); onValue(next.length > 0 ? next : null) }} />
    case 'cuts': return <CutsRight chosen={list} record={record} onChosen={ids => { setList(ids); onValue(ids.length > 0 ? ids : null) }} />
    case 'values': return <Values sheet={String(record.sheet)} was={was as Fields} onValues={onValue} />
    case 'text': return <Text long label={label} value={text} onValue={v => put(v, v.trim() || null)} />
  }
}

interface Reading { probe: string; taken_at: string; temperature: Quantity }

function textOf(how: How, was: unknown): string {
  if (how === 'moment') return localOf(was)
  if (how === 'quantity') return (was as Quantity | undefined)?.value ?? ''
  if (how === 'paper') return (was as { number?: string } | undefined)?.number ?? ''
  return typeof was === 'string' || typeof was === 'number' ? String(was) : ''
}

// MaterialRight picks another delivery or heap. A spray becomes another spray only: its label is asked for on its own page.
function MaterialRight({ label, was, record, onValue }: Omit<RightProps, 'how'>) {
  const { known } = useBook()
  const [id, setId] = useState(() => Object.values((was ?? {}) as Record<string, string>)[0])
  if (!known) return null
  const of = materialsOf(known).filter(m => isSpray(m) === isSprayed(record, known))
  return <MaterialPick legend={label} of={of} chosen={id} onPick={next => { setId(next); onValue(of.find(m => m.id === next)!.source) }} />
}

// CutsRight ticks the lots that were off the ground before. There may be none of that day.
function CutsRight({ chosen, record, onChosen }: { chosen: string[]; record: Fields; onChosen: (ids: string[]) => void }) {
  const w = useWords()
  const cuts = useCutsOn((record.ground as { bed_ids?: string[] } | undefined)?.bed_ids ?? [], String(record.applied_on ?? record.from))
  return cuts.length > 0 ? <CutBefore of={cuts} chosen={chosen} onChosen={onChosen} /> : <p class="note">{w.acts.form.cutNone}</p>
}

// WaterRight picks another water, and its tap where it has several.
function WaterRight({ label, record, onValue }: { label: string; record: Fields; onValue: (v: unknown) => void }) {
  const w = useWords()
  const { known } = useBook()
  const [source, setSource] = useState(String(record.source_id))
  const [tap, setTap] = useState(String(record.tap ?? ''))
  const sourceOf = (id: string) => known?.sources?.find(s => s.id === id)
  const put = (id: string, at: string) => { setSource(id); setTap(at); onValue({ source_id: id, tap: at || null }) }
  const taps = tapsOf(sourceOf(source))
  return (
    <>
      <Pick legend={label} ruled chosen={[source]} onPick={id => put(id, tapFor(sourceOf(id), tap))}
        choices={(known?.sources ?? []).map(s => ({ id: s.id, label: <Name>{s.name}</Name>, under: w.acts.water.kinds[s.kind] ?? s.kind }))} />
      {taps.length > 1 && <Pick legend={w.acts.form.tap} chosen={[tap]} onPick={t => put(source, t)} choices={taps.map(t => ({ id: t, label: <Name>{t}</Name> }))} />}
    </>
  )
}
