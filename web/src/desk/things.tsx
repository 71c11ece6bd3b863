// What the farm has: buyers, water, inputs and their deliveries, compost piles. Each is written once and picked ever after.

import type { ComponentChildren } from 'preact'
import { useBook } from '../book/state'
import { today } from '../book/sync'
import { OneOf, Text, useDraft, YesNoUnknown } from '../parts/fields'
import { Helper, Name, Page, Phone } from '../parts/page'
import { Pick, toggled } from '../parts/pick'
import { day, useWords } from '../words/words'
import { Form } from './form'
import { useDesk } from './words'

export function Things() {
  const w = useWords()
  const t = useDesk().things
  const { known } = useBook()
  const inputs = known?.inputs ?? []
  const name = (id: string) => inputs.find(i => i.id === id)?.name ?? ''
  return (
    <Page title={t.title}>
      <Leaf title={t.customer} head={[t.name, t.kind, t.contact, t.phone]} rows={(known?.customers ?? []).map(c => [c.name, t.buyers[c.kind] ?? c.kind, c.contact, c.phone && <Phone>{c.phone}</Phone>])}><Customer /></Leaf>
      <Leaf title={t.source} head={[t.name, t.kind, t.usedFor]} rows={(known?.sources ?? []).map(s => [s.name, w.acts.water.kinds[s.kind] ?? s.kind, (s.uses ?? []).map(u => w.acts.water.uses[u] ?? u).join(', ')])}><Source /></Leaf>
      <Leaf title={t.input} head={[t.name, t.kind]} rows={inputs.map(i => [i.name, t.categories[i.category] ?? i.category])}><Input /></Leaf>
      {inputs.length > 0 && <Leaf title={t.delivery} head={[t.name, t.supplier, t.received]} rows={(known?.inputLots ?? []).map(l => [name(l.input_id), l.supplier, day(w, l.received_on)])}><Delivery /></Leaf>}
      <Leaf title={t.batch} head={[t.name, t.kind, t.started]} rows={(known?.batches ?? []).map(b => [b.code, t.methods[b.method] ?? b.method, day(w, b.started_on)])}><Batch /></Leaf>
      <Helper />
    </Page>
  )
}

// Leaf is the list of one kind, and the form for one more, folded away.
function Leaf({ title, head, rows, children }: { title: string; head: string[]; rows: ComponentChildren[][]; children: ComponentChildren }) {
  const t = useDesk().things
  return (
    <section class="leaf">
      <h2>{title} <span class="count">{rows.length}</span></h2>
      {rows.length > 0 && (
        <div class="wide-table" tabIndex={0} role="group" aria-label={title}>
          <table class="lines-table">
            <thead><tr>{head.map(h => <th key={h} scope="col">{h}</th>)}</tr></thead>
            <tbody>{rows.map((row, i) => <tr key={i}>{row.map((cell, j) => <td key={j}><Name>{cell}</Name></td>)}</tr>)}</tbody>
          </table>
        </div>
      )}
      <details><summary>{title}: {t.more}</summary>{children}</details>
    </section>
  )
}

function Customer() {
  const t = useDesk().things
  const [d, put] = useDraft({ name: '', kind: '', contact: '', phone: '' })
  return (
    <Form path="/v1/customers" label={t.add} missing={[!d.name.trim() && t.name, !d.kind && t.kind]} onDone={() => put({ name: '', contact: '', phone: '' })}
      body={() => ({ name: d.name.trim(), kind: d.kind, ...(d.contact.trim() ? { contact: d.contact.trim() } : {}), ...(d.phone.trim() ? { phone: d.phone.trim() } : {}) })}>
      <Text label={t.name} value={d.name} onValue={name => put({ name })} />
      <OneOf legend={t.kind} of={t.buyers} value={d.kind} onValue={kind => put({ kind })} />
      <Text label={t.contact} value={d.contact} onValue={contact => put({ contact })} />
      <Text label={t.phone} value={d.phone} onValue={phone => put({ phone })} />
    </Form>
  )
}

function Source() {
  const w = useWords()
  const t = useDesk().things
  const [d, put] = useDraft({ name: '', kind: '', uses: [] as string[], tap: '' })
  return (
    <Form path="/v1/water-sources" label={t.add} missing={[!d.name.trim() && t.name, !d.kind && t.kind, d.uses.length === 0 && t.uses]} onDone={() => put({ name: '', uses: [], tap: '' })}
      body={() => ({ name: d.name.trim(), kind: d.kind, uses: d.uses, ...(d.tap.trim() ? { points: d.uses.map(use => ({ use, tap: d.tap.trim() })) } : {}) })}>
      <Text label={t.name} value={d.name} onValue={name => put({ name })} />
      <OneOf legend={t.kind} of={w.acts.water.kinds} value={d.kind} onValue={kind => put({ kind })} />
      <Pick legend={t.uses} chosen={d.uses} onPick={id => put({ uses: toggled(d.uses, id) })} choices={Object.entries(w.acts.water.uses).map(([id, label]) => ({ id, label }))} />
      <Text label={t.tap} value={d.tap} onValue={tap => put({ tap })} />
    </Form>
  )
}

function Input() {
  const t = useDesk().things
  const [d, put] = useDraft({ name: '', category: '', species: '' })
  return (
    <Form path="/v1/inputs" label={t.add} missing={[!d.name.trim() && t.name, !d.category && t.kind]} onDone={() => put({ name: '', species: '' })}
      body={() => ({ name: d.name.trim(), category: d.category, ...(d.species.trim() ? { species: d.species.trim() } : {}) })}>
      <Text label={t.name} value={d.name} onValue={name => put({ name })} />
      <OneOf legend={t.kind} of={t.categories} value={d.category} onValue={category => put({ category })} />
      {/manure|compost/.test(d.category) && <Text label={t.species} value={d.species} onValue={species => put({ species })} />}
    </Form>
  )
}

function Delivery() {
  const w = useWords()
  const t = useDesk().things
  const { known } = useBook()
  const [d, put] = useDraft({ input: '', supplier: '', on: today(), value: '', unit: 'yd3' })
  return (
    <Form path="/v1/input-lots" label={t.add} missing={[!d.input && t.name, !d.supplier.trim() && t.supplier, !(Number(d.value) > 0) && t.quantity]} onDone={() => put({ value: '' })}
      body={() => ({ input_id: d.input, supplier: d.supplier.trim(), received_on: d.on, quantity: { value: d.value, unit: d.unit } })}>
      <Pick legend={t.delivered} chosen={[d.input]} onPick={input => put({ input })} choices={(known?.inputs ?? []).map(i => ({ id: i.id, label: <Name>{i.name}</Name> }))} />
      <Text label={t.supplier} value={d.supplier} onValue={supplier => put({ supplier })} />
      <Text kind="date" label={t.received} value={d.on} onValue={on => put({ on })} />
      <Text label={t.quantity} value={d.value} onValue={value => put({ value: value.replace(',', '.') })} />
      <OneOf legend={w.cut.unit} of={Object.fromEntries(['yd3', 'lb', 'gal', 'bu', 'each', 'kg', 'm3', 'L'].map(u => [u, ((w.unit as Record<string, string>)[u] ?? u).split('|').pop()!]))} value={d.unit} onValue={unit => put({ unit })} />
    </Form>
  )
}

function Batch() {
  const t = useDesk().things
  const [d, put] = useDraft({ code: '', method: '', on: today(), feedstock: '', value: '', animal: '' })
  return (
    <Form path="/v1/compost-batches" label={t.add} missing={[!d.code.trim() && t.code, !d.method && t.kind, !d.feedstock.trim() && t.feedstock, !(Number(d.value) > 0) && t.quantity, !d.animal && t.animal]}
      onDone={() => put({ code: '', value: '' })}
      body={() => ({ code: d.code.trim(), method: d.method, started_on: d.on, ingredients: [{ feedstock: d.feedstock.trim(), amount: { value: d.value, unit: 'yd3' }, animal_origin: d.animal !== 'no' }] })}>
      <Text label={t.code} value={d.code} onValue={code => put({ code })} />
      <OneOf legend={t.kind} of={t.methods} value={d.method} onValue={method => put({ method })} />
      <Text kind="date" label={t.started} value={d.on} onValue={on => put({ on })} />
      <Text label={t.feedstock} value={d.feedstock} onValue={feedstock => put({ feedstock })} />
      <Text label={`${t.quantity}, yd³`} value={d.value} onValue={value => put({ value: value.replace(',', '.') })} />
      <YesNoUnknown legend={t.animal} value={d.animal} onValue={animal => put({ animal })} />
    </Form>
  )
}
