// What a lab's paper says of one sample: none found, a number with its sign, present or absent, or nothing yet.

import { unitName, useWords } from '../words/words'
import { Numbers } from './fields'
import { Pick } from './pick'

export interface WaterResult { qualifier?: string; value: string; unit: string }
export interface ResultDraft { kind: string; value: string; unit: string }

const units = ['MPN/100mL', 'CFU/100mL']
const counted = ['less', 'count', 'more']

// resultOf writes the draft as the book wants it; nothing while it is pending.
export function resultOf(d: ResultDraft): WaterResult | undefined {
  const value = d.value.replace(/\.$/, '')
  switch (d.kind) {
    case 'none': return { qualifier: '<', value: '1', unit: d.unit }
    case 'less': return { qualifier: '<', value, unit: d.unit }
    case 'more': return { qualifier: '>', value, unit: d.unit }
    case 'count': return { value, unit: d.unit }
    case 'absent': return { value: '0', unit: 'PA/100mL' }
    case 'present': return { value: '1', unit: 'PA/100mL' }
    default: return undefined
  }
}

export function draftOf(r: WaterResult | undefined): ResultDraft {
  const unit = r && units.includes(r.unit) ? r.unit : units[0]!
  if (!r) return { kind: '', value: '', unit }
  if (r.unit.startsWith('PA')) return { kind: r.value === '1' ? 'present' : 'absent', value: '', unit }
  if (r.qualifier === '<') return { kind: r.value === '1' ? 'none' : 'less', value: r.value, unit }
  return { kind: r.qualifier === '>' ? 'more' : 'count', value: r.value, unit }
}

// lacks tells what is still to be said.
export const lacksNumber = (d: ResultDraft): boolean => counted.includes(d.kind) && d.value === ''

export function ResultField({ what, id, value, onValue, pending = true }: { what: string; id: string; value: ResultDraft; onValue: (d: ResultDraft) => void; pending?: boolean }) {
  const w = useWords()
  const t = w.mend.test
  return (
    <>
      <Pick legend={t.result(what)} chosen={[value.kind]} onPick={kind => onValue({ ...value, kind })}
        choices={Object.entries(t.kinds).filter(([kind]) => pending || kind !== 'pending').map(([kind, label]) => ({ id: kind, label }))} />
      {counted.includes(value.kind) && <Numbers fields={[{ id, label: t.number(what), value: value.value, onValue: v => onValue({ ...value, value: v }), after: unitName(w, value.unit) }]} />}
      {(counted.includes(value.kind) || value.kind === 'none') && (
        <Pick legend={t.unit} three chosen={[value.unit]} onPick={unit => onValue({ ...value, unit })} choices={units.map(u => ({ id: u, label: u }))} />
      )}
    </>
  )
}
