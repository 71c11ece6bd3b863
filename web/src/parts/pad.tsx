// Number keys for gloves: two rows of five across the whole width, within reach of one thumb. The number itself is a
// field, so that a keyboard works as well; the phone's own keyboard stays away.

import { useWords } from '../words/words'

const rows = [['1', '2', '3', '4', '5'], ['6', '7', '8', '9', '0']]

// typed adds a key to a number, and takes only what can become a decimal number of a sensible length.
export function typed(value: string, key: string, point = true): string {
  if (key === 'erase') return value.slice(0, -1)
  if (key === '.') return !point || value.includes('.') ? value : (value || '0') + '.'
  const next = value === '0' ? key : value + key
  return /^\d{1,6}(\.\d{0,2})?$/.test(next) ? next : value
}

export const cleaned = (text: string, point = true): string => [...text.replace(',', '.')].reduce((v, c) => (/[\d.]/.test(c) ? typed(v, c, point) : v), '')

interface PadProps { onKey: (key: string) => void; point?: boolean }

// Pad tells which key was pressed, and not a whole number: two quick thumbs must not overwrite each other.
export function Pad({ onKey, point = true }: PadProps) {
  const w = useWords()
  return (
    <div class="pad" role="group" aria-label={w.pad.pad}>
      {rows.flat().map(key => <button key={key} type="button" onClick={() => onKey(key)}>{key}</button>)}
      {point && <button type="button" class="dot" aria-label={w.pad.dot} onClick={() => onKey('.')}>.</button>}
      <button type="button" class="erase" onClick={() => onKey('erase')}>{w.pad.erase}</button>
    </div>
  )
}

interface FieldProps { id: string; value: string; onValue: (value: string) => void; point?: boolean; label: preact.ComponentChildren; after?: preact.ComponentChildren; on?: boolean; onFocus?: () => void }

// NumberField is the number being written. The one that the keys write into is marked.
export function NumberField({ id, label, value, onValue, point = true, after, on, onFocus }: FieldProps) {
  const w = useWords()
  return (
    <div class={'number' + (on ? ' on' : '')}>
      <label for={id}>{label}</label>
      <input id={id} inputMode="none" autocomplete="off" value={value} placeholder={'–'} aria-description={value ? undefined : w.pad.zero}
        onFocus={onFocus} onInput={e => { const next = cleaned(e.currentTarget.value, point); e.currentTarget.value = next; onValue(next) }} />
      {after}
    </div>
  )
}
