// A delivery came: what, from whom, how much, with a picture of its paper. What is spread later names it.

import { useState } from 'preact/hooks'
import { newId } from '../book/id'
import { useBook } from '../book/state'
import { today, writeAll, type Writing } from '../book/sync'
import { Finish, Late, Numbers, OneOf, Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick, Picked } from '../parts/pick'
import { PicturesField, usePictures } from '../parts/pictures'
import { When } from '../parts/when'
import { go } from '../route'
import { useWords } from '../words/words'

const units = ['yd3', 'gal', 'lb', 'bu', 'each', 'qt', 'oz', 'm3', 'kg', 'L']
const ofAnimals = ['raw-manure', 'aged-manure', 'processed-manure', 'manure-tea', 'bought-compost', 'compost-tea']

export function Deliver() {
  const w = useWords()
  const t = w.mend.deliver
  const { known, habits } = useBook()
  const [d, put] = useDraft({ input: '', fresh: false, name: '', category: '', species: '', supplier: '', other: false, lot: '', on: today(), value: '', unit: habits.amountUnit ?? 'yd3', late: '' })
  const [busy, setBusy] = useState(false)
  const pictures = usePictures()
  const inputs = [...(known?.inputs ?? [])].sort((a, b) => a.name.localeCompare(b.name))
  const input = inputs.find(i => i.id === d.input)
  const suppliers = [...new Set((known?.inputLots ?? []).map(l => l.supplier))].slice(0, 6)
  const missing = [
    d.fresh ? !d.name.trim() && t.need.what : !input && t.need.what, d.fresh && !d.category && t.need.category, !d.supplier.trim() && t.need.from, !(Number(d.value) > 0) && t.need.howMuch,
  ]
  // It comes from the same supplier and is measured in the same way as last time, as a rule.
  const pick = (id: string) => {
    const last = known?.inputLots.find(l => l.input_id === id)
    put(id === 'new' ? { fresh: true } : { input: id, ...(last ? { supplier: last.supplier, unit: last.quantity?.unit ?? d.unit } : {}) })
  }
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    const name = input?.name ?? d.name.trim()
    const inputID = input?.id ?? newId()
    const thing: Writing[] = input ? [] : [{
      path: '/v1/inputs', id: inputID, body: { name, category: d.category, done_at: undefined, ...(d.species.trim() ? { species: d.species.trim() } : {}) }, said: { act: 'input', thing: name },
    }]
    const quantity = { value: d.value.replace(/\.$/, ''), unit: d.unit }
    const { ids } = await writeAll([...thing, {
      path: '/v1/input-lots', pictures: pictures.taken,
      body: {
        input_id: inputID, supplier: d.supplier.trim(), received_on: d.on, quantity, ...(d.on === today() ? {} : { done_at: undefined }), ...(d.lot.trim() ? { supplier_lot: d.lot.trim() } : {}),
        ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
      },
      said: { act: 'deliver', thing: name, quantity, on: d.on },
    }])
    go('/app/entry/' + ids[ids.length - 1]!, true)
  }
  return (
    <Page title={t.title}>
      <form onSubmit={done}>
        {input
          ? <Picked label={t.what} change={w.change} onChange={() => put({ input: '' })}><b><Name>{input.name}</Name></b></Picked>
          : d.fresh ? (
            <>
              <Picked label={t.what} change={w.change} onChange={() => put({ fresh: false })}><b>{t.new}</b></Picked>
              <Text label={t.name} value={d.name} onValue={name => put({ name })} />
              {d.category
                ? <Picked label={t.category} change={w.change} onChange={() => put({ category: '' })}><b>{t.categories[d.category]}</b></Picked>
                : <OneOf legend={t.category} of={t.categories} value={d.category} onValue={category => put({ category })} />}
              {ofAnimals.includes(d.category) && <Text label={t.species} value={d.species} onValue={species => put({ species })} />}
            </>
          ) : (
            <Pick legend={t.what} chosen={[]} onPick={id => pick(id)}
              choices={[...inputs.map(i => ({ id: i.id, label: <Name>{i.name}</Name>, under: t.categories[i.category] })), { id: 'new', label: t.new }]} />
          )}
        {suppliers.length > 0 && (
          <Pick legend={t.from} chosen={[d.other ? '' : 'of ' + d.supplier]} onPick={id => put(id === '' ? { other: true, supplier: '' } : { other: false, supplier: id.slice(3) })}
            choices={[...suppliers.map(s => ({ id: 'of ' + s, label: <Name>{s}</Name> })), { id: '', label: t.other }]} />
        )}
        {(d.other || suppliers.length === 0) && <Text label={t.from} value={d.supplier} onValue={supplier => put({ supplier })} />}
        <PicturesField {...pictures} hint={t.paper} />
        <When legend={t.when} value={d.on} onValue={on => put({ on })} />
        <Numbers fields={[{ id: 'amount', label: t.howMuch, value: d.value, onValue: value => put({ value }), unit: d.unit, units, onUnit: unit => put({ unit }) }]} />
        <Text label={t.lot} value={d.lot} onValue={lot => put({ lot })} />
        <Late on={d.on} value={d.late} onValue={late => put({ late })} />
        <Finish missing={missing} busy={busy || pictures.busy} label={t.done} />
      </form>
      <Helper />
    </Page>
  )
}
