// Taken back: what a buyer returns, by crates or by lot and amount, and what becomes of it.

import { useState } from 'preact/hooks'
import { remember } from '../book/book'
import { readCode } from '../book/code'
import { useAnswer } from '../book/now'
import type { Quantity } from '../book/records'
import { useBook } from '../book/state'
import { write } from '../book/sync'
import { CodesField } from '../parts/codes'
import { Finish, Hour, dayOf, Late, momentOf, Numbers, OneOf, Text, useDraft, YesNoUnknown } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick, Picked, toggled } from '../parts/pick'
import { PicturesField, usePictures } from '../parts/pictures'
import { go } from '../route'
import { amount, day, useWords } from '../words/words'

interface Shipment { id: string; reference: { number: string }; done_on: string; lines: { crates?: string[]; lot?: string; quantity?: Quantity }[]; voided?: boolean }

const units = ['lb', 'kg', 'each', 'bunch', 'head', 'case', 'crate']

export function Back() {
  const w = useWords()
  const t = w.mend.back
  const { known, habits } = useBook()
  const [d, put] = useDraft({
    customer: '', load: '', codes: [] as string[], amounts: {} as Record<string, Quantity>, hours: '', temperature: '', opened: 'no', decision: '', note: '', at: '', late: '',
  })
  const [busy, setBusy] = useState(false)
  const pictures = usePictures()
  const customers = [...(known?.customers ?? [])].sort((a, b) => Number(b.id === habits.customer) - Number(a.id === habits.customer) || a.name.localeCompare(b.name))
  const customer = customers.find(c => c.id === d.customer)
  const loads = useAnswer<Shipment[]>(d.customer ? `/v1/shipments?customer_id=${d.customer}&limit=20` : '')
  const sent = loads.value?.filter(s => !s.voided) ?? []
  const load = sent.find(s => s.id === d.load)
  const crates = d.codes.filter(c => crateOf(c))
  const lots = d.codes.filter(c => !crateOf(c))
  // A lot comes back in the unit it went out in.
  const went = (lot: string): Quantity | undefined => sent.flatMap(s => s.lines).find(l => l.lot === lot)?.quantity
  const of = (lot: string): Quantity => d.amounts[lot] ?? { value: '', unit: went(lot)?.unit ?? 'lb' }
  const toggle = (code: string) => put({ codes: toggled(d.codes, code) })
  const missing = [
    !customer && t.need.who, d.codes.length === 0 && t.need.what, ...lots.map(l => !(Number(of(l).value) > 0) && t.need.amount(l)), !d.decision && t.need.decision,
  ]
  const number = (value: string) => value.replace(/\.$/, '')
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    remember({ customer: d.customer })
    const { id } = await write({
      path: '/v1/returns', pictures: pictures.taken,
      body: {
        customer_id: d.customer, returned_at: momentOf(d.at), decision: d.decision, done_at: undefined,
        lines: [...(crates.length > 0 ? [{ crates }] : []), ...lots.map(lot => ({ lot, quantity: { ...of(lot), value: number(of(lot).value) } }))],
        ...(d.opened === 'yes' ? { opened: true } : {}), ...(d.hours ? { hours_away: number(d.hours) } : {}),
        ...(d.temperature ? { temperature: { value: number(d.temperature), unit: known?.farm.units === 'metric' ? 'degC' : 'degF' } } : {}),
        ...(d.note.trim() ? { note: d.note.trim() } : {}), ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
      },
      said: { act: 'return', thing: customer!.name, quantity: crates.length > 0 ? { value: String(crates.length), unit: 'crate' } : of(lots[0]!), on: dayOf(d.at) },
    })
    go('/app/entry/' + id, true)
  }
  return (
    <Page title={t.title}>
      <form onSubmit={done}>
        {customer
          ? <Picked label={t.who} change={w.change} onChange={() => put({ customer: '', load: '' })}><b><Name>{customer.name}</Name></b></Picked>
          : <Pick legend={t.who} chosen={[]} onPick={id => put({ customer: id })} choices={customers.map(c => ({ id: c.id, label: <Name>{c.name}</Name> }))} />}
        {customer && (
          <>
            {loads.far && <p class="stale">{t.noLoads}</p>}
            {!load && sent.length > 0 && <Pick legend={t.loads} ruled chosen={[]} onPick={id => put({ load: id })}
              choices={sent.map(s => ({ id: s.id, label: <Name>{s.reference.number}</Name>, under: day(w, s.done_on) }))} />}
            {load && (
              <>
                <Picked label={t.loads} change={w.change} onChange={() => put({ load: '' })}><b><Name>{load.reference.number}</Name></b>, {day(w, load.done_on)}</Picked>
                <Pick legend={t.what} chosen={d.codes} onPick={toggle} choices={load.lines.flatMap(l => [
                  ...(l.crates ?? []).map(c => ({ id: c, label: w.acts.load.crate(crateOf(c) ?? 0), under: <span class="mono"><Name>{c}</Name></span> })),
                  ...(l.lot ? [{ id: l.lot, label: <span class="mono"><Name>{l.lot}</Name></span>, under: l.quantity && amount(w, l.quantity) }] : []),
                ])} />
              </>
            )}
            <CodesField label={t.code} codes={d.codes} onCodes={codes => put({ codes })} />
            {lots.length > 0 && <Numbers fields={lots.map((lot, i) => ({
              id: 'lot-' + i, label: t.howMuch(lot), value: of(lot).value, onValue: (value: string) => put({ amounts: { ...d.amounts, [lot]: { ...of(lot), value } } }), unit: of(lot).unit,
              ...(went(lot) ? {} : { units, onUnit: (unit: string) => put({ amounts: { ...d.amounts, [lot]: { ...of(lot), unit } } }) }),
            }))} />}
            {d.codes.length > 0 && <p role="status"><b>{t.count(d.codes.length)}</b></p>}
            <OneOf legend={t.decision} of={t.decisions} value={d.decision} onValue={decision => put({ decision })} />
            <p class="note">{t.caution}</p>
            <YesNoUnknown legend={t.opened} value={d.opened} onValue={opened => put({ opened })} />
            <Numbers fields={[
              { id: 'hours', label: t.hours, value: d.hours, onValue: hours => put({ hours }) },
              { id: 'temperature', label: t.temperature, value: d.temperature, onValue: temperature => put({ temperature }), unit: known?.farm.units === 'metric' ? 'degC' : 'degF' },
            ]} />
            <PicturesField {...pictures} />
            <Hour legend={w.acts.form.when} value={d.at} onValue={at => put({ at })} />
            <Late on={dayOf(d.at)} value={d.late} onValue={late => put({ late })} />
            <Text label={w.acts.form.notes} value={d.note} onValue={note => put({ note })} />
            <Finish missing={missing} busy={busy || pictures.busy} label={t.done} />
          </>
        )}
      </form>
      <Helper />
    </Page>
  )
}

// crateOf gives the number of the crate that a code names; nothing for the code of a lot.
function crateOf(code: string): number | undefined {
  const read = readCode(code)
  return read.state === 'fits' ? read.crate : undefined
}
