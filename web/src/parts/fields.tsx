// What the forms of the acts are made of. Each answers with one thumb, and says by itself what is still missing.

import type { ComponentChildren } from 'preact'
import { useEffect, useId, useState } from 'preact/hooks'
import { addDays, instant } from '../book/days'
import type { WaterSource } from '../book/records'
import { useBook } from '../book/state'
import { today } from '../book/sync'
import { unitName, useWords } from '../words/words'
import { NumberField, Pad, typed } from './pad'
import { Name } from './page'
import { Pick, Picked, toggled } from './pick'

// useDraft holds what is being written; put changes part of it.
export function useDraft<T extends object>(first: T): [T, (part: Partial<T>) => void] {
  const [draft, set] = useState(first)
  return [draft, part => set(now => ({ ...now, ...part }))]
}

// BedsField picks beds plot by plot, and folds away once they are picked.
export function BedsField({ chosen, onChosen, on = today() }: { chosen: string[]; onChosen: (ids: string[]) => void; on?: string }) {
  const w = useWords()
  const { known } = useBook()
  const [open, setOpen] = useState(chosen.length === 0)
  const beds = known?.beds.filter(b => !b.to || b.to > on) ?? []
  const picked = beds.filter(b => chosen.includes(b.id))
  if (!open && picked.length > 0) {
    return <Picked label={w.spread.where} change={w.change} onChange={() => setOpen(true)}><b><Name>{picked.map(b => b.name).join(', ')}</Name></b></Picked>
  }
  return (
    <>
      {known?.plots.map(plot => {
        const here = beds.filter(b => b.plot_id === plot.id).sort((a, b) => a.name.localeCompare(b.name, undefined, { numeric: true }))
        return here.length > 0 && (
          <Pick key={plot.id} legend={<Name>{plot.name}</Name>} chosen={chosen} choices={here.map(b => ({ id: b.id, label: <Name>{b.name}</Name> }))}
            onPick={id => onChosen(toggled(chosen, id))} />
        )
      })}
      {picked.length > 0 && <p><button type="button" class="main" onClick={() => setOpen(false)}>{w.done}: {w.spread.picked(picked.length)}</button></p>}
    </>
  )
}

// OneOf picks one of a few words, each with its id.
export function OneOf({ legend, of, value, onValue }: { legend: ComponentChildren; of: Record<string, string>; value: string; onValue: (id: string) => void }) {
  return <Pick legend={legend} chosen={[value]} onPick={onValue} choices={Object.entries(of).map(([id, label]) => ({ id, label }))} />
}

export function YesNoUnknown({ legend, value, onValue }: { legend: ComponentChildren; value: string; onValue: (id: string) => void }) {
  const w = useWords()
  return <Pick legend={legend} three chosen={[value]} onPick={onValue}
    choices={[{ id: 'no', label: w.acts.form.no }, { id: 'yes', label: w.acts.form.yes }, { id: 'unknown', label: w.acts.form.unknown }]} />
}

interface TextOf { label: string; value: string; onValue: (v: string) => void; long?: boolean; kind?: 'text' | 'date' | 'time' | 'datetime-local'; slip?: ComponentChildren; digits?: boolean }

// Text is a field to write in. slip is what is wrong with what stands in it.
export function Text({ label, value, onValue, long, kind, slip, digits }: TextOf) {
  const id = useId()
  const wrong = slip ? { 'aria-invalid': 'true' as const, 'aria-describedby': id } : {}
  return (
    <>
      <label class="field">{label}
        {long
          ? <textarea rows={3} value={value} {...wrong} onInput={e => onValue(e.currentTarget.value)} />
          : <input {...{ type: kind ?? 'text' } as { type: 'text' }} autocomplete="off" inputMode={digits ? 'numeric' : undefined} value={value} {...wrong} onInput={e => onValue(e.currentTarget.value)} />}
      </label>
      {slip && <p class="told slip" id={id}>{slip}</p>}
    </>
  )
}

export interface NumberOf { id: string; label: ComponentChildren; value: string; onValue: (value: string) => void; point?: boolean; unit?: string; units?: string[]; onUnit?: (unit: string) => void; after?: string }

// Numbers are the numbers of one form with one set of keys. The keys write into the one that is marked.
export function Numbers({ fields }: { fields: NumberOf[] }) {
  const w = useWords()
  const [at, setAt] = useState(0)
  const [pickingFor, setPickingFor] = useState<number>()
  const on = fields[Math.min(at, fields.length - 1)]!
  if (pickingFor !== undefined) {
    const field = fields[pickingFor]!
    return <Pick legend={w.cut.unit} chosen={[field.unit ?? '']} choices={field.units!.map(u => ({ id: u, label: unitName(w, u) }))}
      onPick={u => { field.onUnit!(u); setPickingFor(undefined) }} />
  }
  return (
    <>
      <div class={'amounts' + (fields.length === 1 ? ' one' : ' several')}>
        {fields.map((f, i) => (
          <NumberField key={f.id} id={f.id} label={f.label} value={f.value} point={f.point} on={fields.length === 1 || i === at} onFocus={() => setAt(i)} onValue={f.onValue}
            after={f.units && f.units.length > 1
              ? <button type="button" class="unit" onClick={() => setPickingFor(i)}>{unitName(w, f.unit!)}<span class="unseen"> {w.change} {w.cut.unit}</span></button>
              : f.unit || f.after ? <span class="unit">{f.after ?? unitName(w, f.unit!)}</span> : undefined} />
        ))}
      </div>
      <Pad point={on.point !== false} onKey={key => on.onValue(typed(on.value, key, on.point !== false))} />
    </>
  )
}

// Hour picks when it was: now, or another time as the phone's clock tells it. It gives nothing for now.
export function Hour({ legend, value, onValue }: { legend: string; value: string; onValue: (local: string) => void }) {
  const w = useWords()
  const [other, setOther] = useState(value !== '')
  const latest = instant().slice(0, 16)
  return (
    <>
      <Pick legend={legend} three chosen={[other ? 'other' : 'now']} choices={[{ id: 'now', label: w.acts.form.now }, { id: 'other', label: w.acts.form.other }]}
        onPick={id => { setOther(id === 'other'); onValue(id === 'other' ? latest : '') }} />
      {other && <input type="datetime-local" aria-label={legend} max={latest} value={value} onInput={e => onValue(e.currentTarget.value)} />}
    </>
  )
}

// momentOf makes an instant of what Hour gave, with the phone's offset on that day.
export const momentOf = (local: string): string => (local ? instant(new Date(local)) : instant())
export const dayOf = (local: string): string => (local ? local.slice(0, 10) : today())

// Late asks why something is written down later than it was done. The book takes it without an answer.
export function Late({ on, value, onValue }: { on: string; value: string; onValue: (v: string) => void }) {
  const w = useWords()
  return on < addDays(today(), -1) ? <Text label={w.acts.form.late} value={value} onValue={onValue} /> : null
}

// Finish is the last line of every form: what is still missing, and the button.
export function Finish({ missing, busy, label }: { missing: (string | false | undefined | null)[]; busy: boolean; label: string }) {
  const w = useWords()
  const still = missing.filter(Boolean) as string[]
  return (
    <>
      {still.length > 0 && <p class="note" role="status">{w.acts.form.need}{still.join(' · ')}</p>}
      <button class="main whole" disabled={still.length > 0 || busy}>{busy ? w.cut.writing : label}</button>
    </>
  )
}

// tapsOf lists the taps of a source that serve one of some uses, or any use.
export const tapsOf = (source: WaterSource | undefined, uses?: string[]): string[] =>
  [...new Set((source?.points ?? []).filter(p => !uses || uses.includes(p.use)).map(p => p.tap))]

// tapFor gives the tap that is meant: the one asked for if it serves that use, or the only one that does.
export function tapFor(source: WaterSource | undefined, tap: string, uses?: string[]): string {
  const taps = tapsOf(source, uses)
  return taps.includes(tap) ? tap : taps.length === 1 ? taps[0]! : ''
}

// WaterField picks the source and the tap.
export function WaterField({ source, tap, onSource, uses }: { source: string; tap: string; onSource: (source: string, tap: string) => void; uses: string[] }) {
  const w = useWords()
  const { known } = useBook()
  const sources = (known?.sources ?? []).filter(s => !s.to && (!s.uses || s.uses.some(u => uses.includes(u))))
  const chosen = sources.find(s => s.id === source)
  const taps = tapsOf(chosen, uses)
  // Where there is one source only, it is that one.
  useEffect(() => { if (sources.length === 1 && !chosen) pick(sources[0]!.id) }, [sources.length])
  if (known && sources.length === 0) return <p>{w.acts.form.noSource}</p>
  function pick(id: string) {
    onSource(id, tapFor(sources.find(s => s.id === id), '', uses))
  }
  return (
    <>
      {chosen
        ? <Picked label={w.acts.more.water} change={w.change} onChange={() => onSource('', '')}><b><Name>{chosen.name}</Name></b>{tap && <>, <Name>{tap}</Name></>}</Picked>
        : <Pick legend={w.acts.form.source} ruled chosen={[]} onPick={pick}
          choices={sources.map(s => ({ id: s.id, label: <Name>{s.name}</Name>, under: w.acts.water.kinds[s.kind] ?? s.kind }))} />}
      {chosen && !tap && taps.length > 1 && <Pick legend={w.acts.form.tap} chosen={[tap]} onPick={t => onSource(source, t)} choices={taps.map(t => ({ id: t, label: <Name>{t}</Name> }))} />}
    </>
  )
}
