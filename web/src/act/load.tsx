// Load the van: who gets what, with which paper. Crates go by their codes, scanned, typed or picked; what has no crates
// goes by its lot.

import { useEffect, useState } from 'preact/hooks'
import { remember } from '../book/book'
import { readCode } from '../book/code'
import { heldHere } from '../book/judge'
import { refresh } from '../book/known'
import type { OnHand } from '../book/records'
import { current, useBook } from '../book/state'
import { today, write } from '../book/sync'
import { dayOf, Finish, Hour, Late, momentOf, Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick, Picked, toggled } from '../parts/pick'
import { Scan } from '../parts/scan'
import { go, type Place } from '../route'
import { amount, day, useWords } from '../words/words'

export function Load({ place }: { place: Place }) {
  const w = useWords()
  const t = w.acts.load
  const { known, habits, queue } = useBook()
  const [d, put] = useDraft({
    customer: '', crates: [] as string[], lots: [] as string[], paper: habits.paper ?? 'invoice', number: '', at: '', late: '', code: '', told: '', few: '',
  })
  const [busy, setBusy] = useState(false)
  useEffect(() => void refresh({ lists: true }), [])
  const onHand = (known?.onHand ?? []).filter(l => !l.held && !heldHere(queue).has(l.lot_id))
  const customers = [...(known?.customers ?? [])].sort((a, b) => Number(b.id === habits.customer) - Number(a.id === habits.customer) || a.name.localeCompare(b.name))
  const customer = customers.find(c => c.id === d.customer)
  // Coming from packing, all of that lot goes along until somebody says otherwise.
  const asked = place.asked.get('lot')
  const along = onHand.find(l => l.code === asked)
  useEffect(() => { if (along) put(along.crates.length > 0 ? { crates: along.crates.map(c => c.code) } : { lots: [along.code] }) }, [along?.code])
  const few = onHand.find(l => l.code === d.few)

  const toggle = (l: OnHand) => {
    if (l.crates.length === 0) return put({ lots: toggled(d.lots, l.code) })
    const codes = l.crates.map(c => c.code)
    const all = codes.every(c => d.crates.includes(c))
    put({ crates: [...d.crates.filter(c => !codes.includes(c)), ...(all ? [] : codes)] })
  }
  // A scanned or typed code: a crate goes along, a lot code stands for all of it.
  const add = async (text: string, again = false): Promise<void> => {
    const r = readCode(text)
    const lot = r.state === 'fits' ? (current().known?.onHand ?? []).find(l => l.code === r.lot && !l.held && !heldHere(current().queue).has(l.lot_id)) : undefined
    const crate = r.state === 'fits' ? lot?.crates.find(c => c.number === r.crate) : undefined
    if (r.state === 'fits' && !again && (r.crate ? !crate : !lot)) {
      await refresh({ lists: true }) // somebody may have packed it a minute ago
      return add(text, true)
    }
    if (r.state !== 'fits' || !lot || (r.crate && !crate)) return put({ told: t.notHere(r.state === 'fits' ? r.text : text), code: '' })
    if (crate) put({ crates: [...new Set([...d.crates, crate.code])], code: '', told: '' })
    else if (lot.crates.length > 0) put({ crates: [...new Set([...d.crates, ...lot.crates.map(c => c.code)])], code: '', told: '' })
    else put({ lots: [...new Set([...d.lots, lot.code])], code: '', told: '' })
  }
  const lines = [
    ...(d.crates.length > 0 ? [{ crates: d.crates }] : []),
    ...onHand.filter(l => d.lots.includes(l.code)).map(l => ({ lot: l.code, quantity: l.on_hand })),
  ]
  const count = d.crates.length + d.lots.length
  const missing = [!customer && t.need.to, count === 0 && t.need.what, !d.number.trim() && t.need.number]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    remember({ customer: d.customer, paper: d.paper })
    const { id } = await write({
      path: '/v1/shipments',
      body: {
        customer_id: d.customer, shipped_at: momentOf(d.at), reference: { type: d.paper, number: d.number.trim() }, lines, done_at: undefined,
        ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
      },
      said: { act: 'load', thing: `${customer!.name}, ${d.number.trim()}`, quantity: d.crates.length > 0 ? { value: String(d.crates.length), unit: 'crate' } : undefined, on: dayOf(d.at) },
    })
    go('/app/entry/' + id, true)
  }
  return (
    <Page title={t.title}>
      {known && customers.length === 0 && <p>{t.noCustomer}</p>}
      {known && onHand.length === 0 && <p>{t.nothing}</p>}
      <form onSubmit={done}>
        {customer
          ? <Picked label={t.to} change={w.change} onChange={() => put({ customer: '' })}><b><Name>{customer.name}</Name></b></Picked>
          : customers.length > 0 && <Pick legend={t.to} chosen={[]} onPick={id => put({ customer: id })} choices={customers.map(c => ({ id: c.id, label: <Name>{c.name}</Name> }))} />}
        {customer && few && (
          <>
            <Picked label={t.fewer} change={w.done} onChange={() => put({ few: '' })}><b><Name>{few.name}</Name></b> <span class="mono"><Name>{few.code}</Name></span></Picked>
            <Pick legend={t.fewer} chosen={d.crates} choices={few.crates.map(c => ({ id: c.code, label: t.crate(c.number) }))}
              onPick={code => put({ crates: toggled(d.crates, code) })} />
          </>
        )}
        {customer && !few && onHand.length > 0 && (
          <Pick legend={t.what} ruled chosen={onHand.filter(l => (l.crates.length > 0 ? l.crates.every(c => d.crates.includes(c.code)) : d.lots.includes(l.code))).map(l => l.code)}
            onPick={code => toggle(onHand.find(l => l.code === code)!)}
            choices={onHand.map(l => ({
              id: l.code, label: <Name>{l.name}</Name>,
              under: <><span class="mono"><Name>{l.code}</Name></span> {l.crates.length > 0 ? t.all(l.crates.length) : t.whole(amount(w, l.on_hand))}, {l.cut_from === today() ? w.todayDay : day(w, l.cut_from)}</>,
            }))} />
        )}
        {customer && !few && onHand.some(l => l.crates.length > 1) && (
          <label class="field">{t.fewer}
            <select value="" onChange={e => put({ few: e.currentTarget.value })}>
              <option value="">{w.choose}</option>
              {onHand.filter(l => l.crates.length > 1).map(l => <option key={l.code} value={l.code}>{l.name} {l.code}</option>)}
            </select>
          </label>
        )}
        {customer && (
          <>
            <label class="field" for="crate-code">{t.code}</label>
            <div class="beside">
              <input id="crate-code" class="mono" autocomplete="off" autocapitalize="characters" spellcheck={false} value={d.code} onInput={e => put({ code: e.currentTarget.value })}
                onKeyDown={e => { if (e.key === 'Enter') { e.preventDefault(); void add(d.code) } }} />
              <button type="button" disabled={readCode(d.code).state !== 'fits'} onClick={() => void add(d.code)}>{t.add}</button>
            </div>
            <Scan label={t.scan} onCode={text => void add(text)} />
            {d.told && <p class="told slip" role="alert"><Name>{d.told}</Name></p>}
            <p role="status"><b>{count > 0 && t.loaded(count)}</b></p>
            <label class="field">{t.paper}
              <select value={d.paper} onChange={e => put({ paper: e.currentTarget.value })}>
                {Object.entries(t.papers).map(([id, name]) => <option key={id} value={id}>{name}</option>)}
              </select>
            </label>
            <Text label={t.number} value={d.number} onValue={number => put({ number })} />
            <Hour legend={w.acts.form.when} value={d.at} onValue={at => put({ at })} />
            <Late on={dayOf(d.at)} value={d.late} onValue={late => put({ late })} />
            <Finish missing={missing} busy={busy} label={t.done} />
          </>
        )}
      </form>
      <Helper />
    </Page>
  )
}
