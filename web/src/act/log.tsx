// Log sheets: the form of a sheet is made from its fields, in their order, so a sheet that the farm adds is here at once.

import { useState } from 'preact/hooks'
import { useAnswer } from '../book/now'
import type { Sheet, SheetField } from '../book/records'
import { useBook } from '../book/state'
import { today, write } from '../book/sync'
import { Facts, inTongue, nameOf } from '../parts/facts'
import { Far } from '../parts/far'
import { BedsField, Finish, Late, Text, useDraft } from '../parts/fields'
import { cleaned } from '../parts/pad'
import { Helper, Name, Page } from '../parts/page'
import { FileButton } from '../parts/picture'
import { PicturesField, PicturesOf, usePictures } from '../parts/pictures'
import { Pick, toggled } from '../parts/pick'
import { When } from '../parts/when'
import { go, type Place } from '../route'
import { day, unitName, useWords } from '../words/words'
import { atLeast } from '../book/role'

export function Log({ place }: { place: Place }) {
  const w = useWords()
  const { known } = useBook()
  const sheets = (known?.sheets ?? []).filter(s => !s.private || atLeast(known?.me?.role, 'lead'))
  const sheet = sheets.find(s => s.key === place.parts[1])
  if (sheet) return <SheetPage key={sheet.key} sheet={sheet} />
  return (
    <Page title={w.acts.log.title}>
      <ul class="acts-list">
        {sheets.map(s => <li key={s.key}><a href={'/app/log/' + s.key}><b><Name>{inTongue(s.title)}</Name></b> <span><Name>{inTongue(s.when)}</Name></span></a></li>)}
      </ul>
      <Helper />
    </Page>
  )
}

type Value = string | string[]

// bodyOf writes a value as the book wants a field of that type.
function bodyOf(field: SheetField, value: Value, unit: string): unknown {
  if (field.type === 'quantity') return { value: (value as string).replace(/\.$/, ''), unit }
  if (field.type === 'names') return typeof value === 'string' ? value.split(',').map(v => v.trim()).filter(Boolean) : value
  if (field.type === 'number') return (value as string).replace(/\.$/, '')
  return typeof value === 'string' ? value.trim() : value
}

const given = (value: Value | undefined): value is Value => (typeof value === 'string' ? value.trim() !== '' : !!value && value.length > 0)

function SheetPage({ sheet }: { sheet: Sheet }) {
  const w = useWords()
  const t = w.acts.log
  const { known, language } = useBook()
  const last = useAnswer<(Record<string, unknown> & { id: string; on?: string; done_on?: string; done_by?: string; attachments?: string[] })[]>(`/v1/log-entries?sheet=${encodeURIComponent(sheet.key)}&limit=5`)
  const [values, put] = useDraft<Record<string, Value>>({})
  const [d, set] = useDraft({ on: today(), action: '', note: '', late: '' })
  const [busy, setBusy] = useState(false)
  const pictures = usePictures()
  const missing = sheet.fields.filter(f => f.required && !given(values[f.key])).map(f => inTongue(f.name))
  const metric = known?.farm.units === 'metric'
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.length > 0 || busy) return
    setBusy(true)
    const body = Object.fromEntries(sheet.fields.filter(f => given(values[f.key])).map(f => [f.key, bodyOf(f, values[f.key]!, unitHere(f, metric))]))
    const now = d.on === today()
    const { id } = await write({
      path: '/v1/log-entries',
      body: {
        sheet: sheet.key, values: body, ...(now ? {} : { on: d.on, done_at: undefined }), ...(d.action.trim() ? { action: d.action.trim() } : {}), ...(d.note.trim() ? { note: d.note.trim() } : {}),
        ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
      },
      said: { act: 'log', thing: inTongue(sheet.title), on: d.on }, pictures: pictures.taken,
    })
    go('/app/entry/' + id, true)
  }
  return (
    <Page title={<Name>{inTongue(sheet.title)}</Name>} under={<Name>{inTongue(sheet.when)}</Name>}>
      <p class="cite">{[...new Set(sheet.asks.map(a => `${w.authority[a.authority as keyof typeof w.authority] ?? a.authority}, ${a.citation}`))].join('; ')}</p>
      {sheet.caution && <p class="why"><Name>{inTongue(sheet.caution)}</Name></p>}
      {sheet.private && <p class="note">{t.private}</p>}
      <form onSubmit={done}>
        <When legend={w.acts.form.when} value={d.on} onValue={on => set({ on })} />
        {sheet.fields.map(f => <Field key={f.key} field={f} value={values[f.key]} onValue={v => put({ [f.key]: v })} metric={metric} />)}
        <Late on={d.on} value={d.late} onValue={late => set({ late })} />
        <Text long label={t.action} value={d.action} onValue={action => set({ action })} />
        <Text label={w.acts.form.notes} value={d.note} onValue={note => set({ note })} />
        {!sheet.private && <PicturesField {...pictures} />}
        <Finish missing={missing} busy={busy || pictures.busy} label={w.acts.form.done} />
      </form>
      <p class="acts"><FileButton path={`/v1/log-sheets/${encodeURIComponent(sheet.key)}/form.pdf?language=${language}`} name={sheet.key + '.pdf'}>{t.blank}</FileButton></p>
      <section class="leaf">
        <h2>{t.last}</h2>
        <Far of={last} />
        <ul class="plain">
          {last.value?.map(x => <li key={x.id}><b>{day(w, x.on ?? x.done_on ?? '')}</b> <Name>{nameOf(known, x.done_by ?? '')}</Name><Facts record={{ ...x, sheet: undefined, on: undefined }} sheet={sheet.key} known={known} /><PicturesOf hashes={x.attachments} /><p><a class="code-link" href={'/app/mend/log-entries/' + x.id}>{w.mend.again}</a></p></li>)}
        </ul>
      </section>
      <Helper />
    </Page>
  )
}

const unitHere = (f: SheetField, metric: boolean) => (metric && f.unit === 'degF' ? 'degC' : f.unit ?? '')

function Field({ field, value, onValue, metric }: { field: SheetField; value: Value | undefined; onValue: (v: Value) => void; metric: boolean }) {
  const w = useWords()
  const { known } = useBook()
  const name = inTongue(field.name)
  const text = typeof value === 'string' ? value : ''
  const list = Array.isArray(value) ? value : []
  const toggle = (id: string) => onValue(toggled(list, id))
  const people = (known?.people ?? []).filter(p => p.role !== 'reader').map(p => ({ id: p.id, label: <Name>{p.name}</Name> }))
  const choices = (field.choices ?? []).map(c => ({ id: c.value, label: <Name>{inTongue(c.name)}</Name> }))
  switch (field.type) {
    case 'yes-no': return <Pick legend={name} three chosen={[text]} onPick={onValue} choices={[{ id: 'yes', label: w.acts.form.yes }, { id: 'no', label: w.acts.form.no }]} />
    case 'choice': return <Pick legend={name} chosen={[text]} onPick={id => onValue(id === text ? '' : id)} choices={choices} />
    case 'choices': return <Pick legend={name} chosen={list} onPick={toggle} choices={choices} />
    case 'person': return <Pick legend={name} chosen={[text]} onPick={id => onValue(id === text ? '' : id)} choices={people} />
    case 'people': return <Pick legend={name} chosen={list} onPick={toggle} choices={people} />
    case 'beds': return <fieldset class="pick"><legend>{name}</legend><BedsField chosen={list} onChosen={onValue} /></fieldset>
    case 'lots': return <Pick legend={name} chosen={list} onPick={toggle} choices={(known?.onHand ?? []).slice(0, 24).map(l => ({ id: l.code, label: <span class="mono"><Name>{l.code}</Name></span>, under: <Name>{l.name}</Name> }))} />
    case 'number':
    case 'quantity': {
      const unit = field.type === 'quantity' ? unitName(w, unitHere(field, metric)) : field.unit_label
      return (
        <label class="field">{name}{unit && <span class="plain-unit">, {unit}</span>}
          <input inputMode="decimal" autocomplete="off" value={text} onInput={e => { const minus = e.currentTarget.value.startsWith('-') ? '-' : ''; const next = minus + cleaned(e.currentTarget.value); e.currentTarget.value = next; onValue(next) }} />
        </label>
      )
    }
    case 'date': return <Text kind="date" label={name} value={text} onValue={onValue} />
    case 'time': return <Text kind="time" label={name} value={text} onValue={onValue} />
    case 'names': return <Text label={`${name} (${w.acts.log.comma})`} value={text} onValue={onValue} />
    default: return <Text label={name} value={text} onValue={onValue} />
  }
}

// Values mends the values of an entry, with the fields of its sheet.
export function Values({ sheet: key, was, onValues }: { sheet: string; was: Record<string, unknown>; onValues: (values: unknown) => void }) {
  const { known } = useBook()
  const sheet = known?.sheets?.find(s => s.key === key)
  const metric = known?.farm.units === 'metric'
  const [values, setValues] = useState<Record<string, Value>>(() => Object.fromEntries(Object.entries(was).map(([k, v]) => [k, valueOf(sheet?.fields.find(f => f.key === k), v)])))
  const put = (k: string, v: Value) => {
    const next = { ...values, [k]: v }
    setValues(next)
    const fields = sheet?.fields.filter(f => given(next[f.key])) ?? []
    const lacks = sheet?.fields.some(f => f.required && !given(next[f.key]))
    onValues(lacks ? undefined : Object.fromEntries(fields.map(f => [f.key, bodyOf(f, next[f.key]!, unitOf(was[f.key]) ?? unitHere(f, metric))])))
  }
  return <>{sheet?.fields.map(f => <Field key={f.key} field={f} value={values[f.key]} onValue={v => put(f.key, v)} metric={metric} />)}</>
}

const unitOf = (was: unknown): string | undefined => (was as { unit?: string } | undefined)?.unit

// valueOf turns a value of the book into what its field edits.
function valueOf(field: SheetField | undefined, value: unknown): Value {
  if (Array.isArray(value)) return field?.type === 'names' ? value.join(', ') : (value as string[])
  return typeof value === 'object' && value !== null ? String((value as { value?: string }).value ?? '') : String(value)
}
