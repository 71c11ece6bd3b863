// A record of any kind in words: its own fields with the names that people gave, and nothing of the book's bookkeeping.

import { current } from '../book/state'
import type { Known } from '../book/state'
import type { Sheet, SheetField, TwoTongues, Why } from '../book/records'
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

// said of a part of a record that the book worked out from another part: it would be told twice.
const saidTwice = (o: Record<string, unknown>, key: string): boolean =>
  (key === 'lot_id' && 'lot' in o) || (key === 'taken' && JSON.stringify(o.taken) === JSON.stringify(o.quantity))

// inWords writes a value of a record as people would.
function inWords(w: Words, known: Known | undefined, value: unknown): string {
  if (value === null || value === undefined) return ''
  if (typeof value === 'boolean') return value ? w.acts.form.yes : w.acts.form.no
  if (Array.isArray(value)) return value.map(v => inWords(w, known, v)).filter(Boolean).join(value.some(v => v && typeof v === 'object') ? '; ' : ', ')
  if (typeof value === 'object') {
    const o = value as Record<string, unknown>
    if (typeof o.value === 'string' && typeof o.unit === 'string') return `${o.qualifier ?? ''}${amount(w, { value: o.value, unit: o.unit })}`
    if (typeof o.en === 'string' && typeof o.es === 'string') return inTongue(o as unknown as TwoTongues)
    return Object.entries(o).filter(([key]) => !bookkeeping.includes(key) && !saidTwice(o, key)).map(([key, v]) => {
      const said = wordFor(w, key, v) ?? inWords(w, known, v)
      const name = w.acts.facts.fields[key]
      return said && (name ? `${name} ${said}` : said)
    }).filter(Boolean).join(', ')
  }
  const text = String(value)
  if (/^[0-9a-f]{8}-[0-9a-f]{4}-/.test(text)) return nameOf(known, text) ?? ''
  if (instantOf.test(text)) return `${day(w, text.slice(0, 10))} ${text.slice(11, 16)}`
  if (/^\d{4}-\d\d-\d\d$/.test(text)) return day(w, text)
  return text
}

// wordFor gives the word for a choice of a field, where the field has choices.
function wordFor(w: Words, key: string, value: unknown): string | undefined {
  if (typeof value !== 'string') return undefined
  if (key === 'touched_crop' || key === 'rinsed') return { yes: w.acts.form.yes, no: w.acts.form.no, unknown: w.acts.form.unknown }[value]
  const f = w.acts.facts
  const words: Record<string, Record<string, string>> = {
    kind: { ...w.acts.seen.kinds, ...f.sanitizers }, method: { ...w.acts.water.methods, ...f.methods }, decision: { ...w.mend.back.decisions, ...w.mend.lost.decisions, ...f.decisions },
    type: w.acts.load.papers, substance: w.acts.seen.substances, status: f.status, soil_contact: f.soilContact,
    analyte: { 'generic E. coli': w.mend.test.ecoli, 'total coliform': w.mend.test.coliform },
  }
  return words[key]?.[value]
}

// sayMark says of a source that it was not looked up, in words; a source that was needs none.
const sayMark = (w: Words, mark: string | undefined): string => (mark && /\bmemory\b/.test(mark) ? w.acts.log.unverified : '')

interface Asker { authority: string; citation: string; mark?: string }

// sayAsker says who asks for something, where that is written, and whether the source was looked up.
export const sayAsker = (w: Words, a: Asker): string =>
  [w.authority[a.authority as keyof typeof w.authority] ?? a.authority, a.citation, sayMark(w, a.mark)].filter(Boolean).join(', ')

interface Out { act: TwoTongues; asks?: Asker }

// sayOut says what to do about a value that is out of limits, and who asks for it.
export function sayOut(w: Words, out: Out): string {
  const { asks } = out
  const who = asks && sayAsker(w, asks)
  return inTongue(out.act) + (who ? ` (${who})` : '')
}

// sayValue writes one value of a log sheet with the words of its field.
function sayValue(w: Words, known: Known | undefined, field: SheetField | undefined, value: unknown): string {
  if (Array.isArray(value)) return value.map(v => sayValue(w, known, field, v)).filter(Boolean).join(', ')
  const choice = field?.choices?.find(c => c.value === value)
  if (choice) return inTongue(choice.name)
  if (field?.type === 'yes-no') return inWords(w, known, value === 'yes')
  const said = inWords(w, known, value)
  return said && field?.unit_label ? `${said} ${field.unit_label}` : said
}

// valuesOf names the values of a log entry by its sheet, in the order of the sheet.
function valuesOf(w: Words, known: Known | undefined, sheet: Sheet | undefined, values: Record<string, unknown>): [string, string][] {
  const fields = sheet?.fields.filter(f => f.key in values) ?? []
  const others = Object.keys(values).filter(key => !fields.some(f => f.key === key))
  return [...fields.map((f): [string, string] => [inTongue(f.name), sayValue(w, known, f, values[f.key])]), ...others.map((key): [string, string] => [key.replaceAll('_', ' '), sayValue(w, known, undefined, values[key])])]
}

const sheetOf = (known: Known | undefined, key: unknown): Sheet | undefined => known?.sheets?.find(s => s.key === key)

// sayField writes what a field of a record says, in words. Of a log entry the sheet has to be said, too.
export function sayField(w: Words, known: Known | undefined, key: string, value: unknown, sheet?: unknown): string {
  switch (key) {
    case 'ground': return inWords(w, known, Object.values((value ?? {}) as object))
    case 'attachments': return w.mend.pictures.count(Array.isArray(value) ? value.length : 0)
    case 'values': return valuesOf(w, known, sheetOf(known, sheet), (value ?? {}) as Record<string, unknown>).map(([name, said]) => `${name}: ${said}`).join('; ')
    case 'sheet': return inTongue(sheetOf(known, value)?.title) || inWords(w, known, value)
    case 'out_of_limits': return Array.isArray(value) ? value.map(o => sayOut(w, o as Out)).join('; ') : ''
    default: return wordFor(w, key, value) ?? inWords(w, known, value)
  }
}

// nameOfField names a field of a record. What a hold lies on is no day.
const nameOfField = (w: Words, key: string, value: unknown): string =>
  key === 'on' && typeof value === 'object' ? w.mend.holds.open : w.acts.facts.fields[key] ?? w.mend.mend.fields[key]?.toLowerCase() ?? key.replaceAll('_', ' ')

// Facts lists the fields of a record. sheet is said where a log entry is shown without it.
export function Facts({ record, known, sheet }: { record: Record<string, unknown>; known?: Known; sheet?: string }) {
  const w = useWords()
  // Of a cut the field says yes or no; of a hold it is the book's reason.
  const ofBook = typeof record.already_cut === 'string'
  const shown = ofBook ? { ...record, reason: whyHeld(w, record as unknown as Why), already_cut: undefined } : record
  const rows = Object.entries(shown).filter(([key]) => !bookkeeping.includes(key)).flatMap(([key, value]): [string, string][] => key === 'values'
    ? valuesOf(w, known, sheetOf(known, sheet ?? record.sheet), (value ?? {}) as Record<string, unknown>) : [[nameOfField(w, key, value), sayField(w, known, key, value)]])
  return (
    <dl class="facts small">
      {rows.filter(([, value]) => value).map(([name, value], i) => [<dt key={'t' + i}>{name}</dt>, <dd key={'d' + i}><Name>{value}</Name></dd>])}
    </dl>
  )
}
