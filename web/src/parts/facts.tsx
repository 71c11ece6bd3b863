// A record of any kind in words: its own fields with the names that people gave, and nothing of the book's bookkeeping.

import { current } from '../book/state'
import type { Known } from '../book/state'
import type { TwoTongues, Why } from '../book/records'
import { amount, day, useWords, type Words } from '../words/words'
import { Name } from './page'

const bookkeeping = ['id', 'done_at', 'done_by', 'done_on', 'device_at', 'entered_at', 'entry', 'review', 'typed_by', 'late_days', 'late_reason', 'voided', 'private', 'attachments', 'verdict_then', 'verdict_now', 'held', 'moved', 'warnings', 'rejudged']

export const inTongue = (t: TwoTongues | undefined): string => (t ? (current().language === 'es' ? t.es : t.en) : '')

// nameOf finds what an id stands for among the things this phone knows.
export function nameOf(known: Known | undefined, id: string): string | undefined {
  if (!known) return undefined
  const planting = known.plantings.find(p => p.id === id)
  const crop = known.crops.find(c => c.id === (planting?.crop_id ?? id))
  return (known.people.find(p => p.id === id) ?? known.beds.find(b => b.id === id) ?? known.plots.find(p => p.id === id) ?? known.sources?.find(s => s.id === id) ?? crop ??
    known.inputs.find(i => i.id === (known.inputLots.find(l => l.id === id)?.input_id ?? id)) ?? known.customers?.find(c => c.id === id))?.name ??
    known.batches.find(b => b.id === id)?.code ?? known.lots.find(l => l.id === id)?.code ?? known.onHand?.find(l => l.lot_id === id)?.code
}

// whyHeld says why a thing is on hold: what the person wrote, or the page's own words where the book put the hold on by itself.
export const whyHeld = (w: Words, hold: Why): string => (hold.already_cut && w.mend.holds.already[hold.already_cut]) ?? hold.reason

const instantOf = /^\d{4}-\d\d-\d\dT\d\d:\d\d/

// inWords writes a value of a record as people would.
function inWords(w: Words, known: Known | undefined, value: unknown): string {
  if (value === null || value === undefined) return ''
  if (typeof value === 'boolean') return value ? w.acts.form.yes : w.acts.form.no
  if (Array.isArray(value)) return value.map(v => inWords(w, known, v)).filter(Boolean).join(value.some(v => typeof v === 'object') ? '; ' : ', ')
  if (typeof value === 'object') {
    const o = value as Record<string, unknown>
    if (typeof o.value === 'string' && typeof o.unit === 'string') return `${o.qualifier ?? ''}${amount(w, { value: o.value, unit: o.unit })}`
    if (typeof o.en === 'string' && typeof o.es === 'string') return inTongue(o as unknown as TwoTongues)
    // What a packing took from a lot names the lot twice, by code and id, and the amount in the lot's own unit too.
    const twice = (key: string, v: unknown) => (key === 'lot_id' && 'lot' in o) || (key === 'taken' && inWords(w, known, v) === inWords(w, known, o.quantity))
    return Object.entries(o).filter(([key, v]) => !bookkeeping.includes(key) && !twice(key, v)).map(([key, v]) => {
      const said = inWords(w, known, v)
      const name = w.acts.facts.fields[key]
      return said && (name ? `${name} ${said}` : said)
    }).filter(Boolean).join(', ')
  }
  const text = String(value)
  if (/^[0-9a-f]{8}-[0-9a-f]{4}-/.test(text)) return nameOf(known, text) ?? ''
  if (instantOf.test(text)) return `${day(w, text.slice(0, 10))} ${text.slice(11, 16)}`
  if (/^\d{4}-\d\d-\d\d$/.test(text)) return day(w, text)
  return w.acts.facts.values[text] ?? text
}

// wordFor gives the word for a choice of a field, where the field has choices.
function wordFor(w: Words, key: string, value: unknown): string | undefined {
  if (typeof value !== 'string') return undefined
  if (key === 'touched_crop' || key === 'rinsed') return { yes: w.acts.form.yes, no: w.acts.form.no, unknown: w.acts.form.unknown }[value]
  const words: Record<string, Record<string, string>> = { kind: w.acts.seen.kinds, method: { ...w.acts.water.methods, ...w.acts.facts.methods }, decision: { ...w.mend.back.decisions, ...w.mend.lost.decisions } }
  return words[key]?.[value]
}

const sheetTitle = (known: Known | undefined, key: unknown): string => inTongue(known?.sheets?.find(s => s.key === key)?.title) || String(key)

// labelOf gives the name of a field. What a hold is on and the day a log entry is of have the same name in the book.
function labelOf(w: Words, key: string, value: unknown): string {
  if (key === 'on' && typeof value === 'object') return w.acts.facts.fields.source!
  return w.acts.facts.fields[key] ?? w.mend.mend.fields[key]?.toLowerCase() ?? key.replaceAll('_', ' ')
}

// sayField writes what a field of a record says, in words.
export const sayField = (w: Words, known: Known | undefined, key: string, value: unknown): string =>
  key === 'sheet' ? sheetTitle(known, value) : key === 'ground' ? inWords(w, known, Object.values((value ?? {}) as object)) : key === 'attachments' ? w.mend.pictures.count(Array.isArray(value) ? value.length : 0) : wordFor(w, key, value) ?? inWords(w, known, value)

export function Facts({ record, known }: { record: Record<string, unknown>; known?: Known }) {
  const w = useWords()
  // Of a cut the field says yes or no; of a hold it is the book's reason.
  const ofBook = typeof record.already_cut === 'string'
  const shown = ofBook ? { ...record, reason: whyHeld(w, record as unknown as Why), already_cut: undefined } : record
  const rows = Object.entries(shown).filter(([key]) => !bookkeeping.includes(key)).map(([key, value]) => [labelOf(w, key, value), sayField(w, known, key, value)] as const)
  return (
    <dl class="facts small">
      {rows.filter(([, value]) => value).map(([name, value], i) => [<dt key={'t' + i}>{name}</dt>, <dd key={'d' + i}><Name>{value}</Name></dd>])}
    </dl>
  )
}
