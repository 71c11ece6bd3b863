// Wash and pack: what goes in, how much comes out, in how many crates. Held lots are not offered.

import { useEffect, useState } from 'preact/hooks'
import { remember } from '../book/book'
import { heldHere } from '../book/judge'
import { refresh } from '../book/known'
import type { OnHand, Quantity } from '../book/records'
import { useBook } from '../book/state'
import { today, write } from '../book/sync'
import { Finish, Hour, dayOf, Late, momentOf, Numbers, Text, useDraft, WaterField } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick, Picked, toggled } from '../parts/pick'
import { go, type Place } from '../route'
import { amount, day, useWords } from '../words/words'

// sumOf adds up what goes in, if it is all counted in one unit. Hundredths are enough for a scale, and add up exactly.
export function sumOf(list: Quantity[]): Quantity | undefined {
  const unit = list[0]?.unit
  if (!unit || list.some(q => q.unit !== unit)) return undefined
  return { value: String(list.reduce((n, q) => n + Math.round(Number(q.value) * 100), 0) / 100), unit }
}

export const less = (q: Quantity, culls: string): string => String(Math.max(0, Math.round(Number(q.value) * 100) - Math.round(Number(culls || 0) * 100)) / 100)

export function Pack({ place }: { place: Place }) {
  const w = useWords()
  const t = w.acts.pack
  const { known, habits, queue } = useBook()
  const [d, put] = useDraft({
    from: [place.asked.get('lot')].filter(Boolean) as string[], product: undefined as string | undefined, out: undefined as string | undefined, culls: '', crates: '',
    washed: '', source: habits.water ?? '', tap: habits.tap ?? '', at: '', late: '',
  })
  const [busy, setBusy] = useState(false)
  useEffect(() => void refresh({ lists: true }), [])
  const all = known?.onHand ?? []
  const lots = all.filter(l => !l.held && !heldHere(queue).has(l.lot_id))
  const chosen = lots.filter(l => d.from.includes(l.code))
  const inside = sumOf(chosen.map(l => l.on_hand))
  const unit = inside?.unit ?? chosen[0]?.on_hand.unit ?? 'lb'
  const product = d.product ?? [...new Set(chosen.map(l => l.name))].join(', ').slice(0, 120)
  const out = d.out ?? (inside ? less(inside, d.culls) : '')
  const washed = d.washed === 'yes'
  const missing = [chosen.length === 0 && t.need.from, !product.trim() && t.need.product, !(Number(out) > 0) && t.need.out, washed && !d.source && w.acts.water.need.source]
  const number = (value: string) => value.replace(/\.$/, '')
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    if (washed) remember({ water: d.source, tap: d.tap })
    const quantity = { value: number(out), unit }
    const { id } = await write({
      path: '/v1/pack-lots',
      body: {
        packed_at: momentOf(d.at), from: chosen.map(l => ({ lot: l.code, quantity: l.on_hand })), product: product.trim(), quantity, crates: Number(d.crates || 0), done_at: undefined,
        ...(Number(d.culls) > 0 ? { culls: { value: number(d.culls), unit } } : {}), ...(washed ? { water_source_id: d.source, ...(d.tap ? { tap: d.tap } : {}) } : {}),
        ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
      },
      said: { act: 'pack', thing: product, quantity, on: dayOf(d.at) },
    })
    go('/app/entry/' + id, true)
  }
  return (
    <Page title={t.title}>
      {known && lots.length === 0 && <p>{t.nothing}</p>}
      <form onSubmit={done}>
        <Lots lots={lots} chosen={d.from} onChosen={from => put({ from, out: undefined })} />
        {all.length > lots.length && <p class="note">{t.held(all.length - lots.length)}</p>}
        {chosen.length > 0 && (
          <>
            <p class="note" role="status">{inside ? t.tie(amount(w, inside)) : t.units}</p>
            <Numbers fields={[
              { id: 'crates', label: t.crates, value: d.crates, point: false, onValue: crates => put({ crates }) },
              { id: 'culls', label: t.culls, value: d.culls, onValue: culls => put({ culls }), unit },
              { id: 'out', label: t.out, value: out, onValue: out => put({ out }), unit },
            ]} />
            <Finish missing={missing} busy={busy} label={t.done} />
            <Pick legend={t.washed} three chosen={[d.washed || 'no']} onPick={washed => put({ washed })}
              choices={[{ id: 'no', label: t.unwashed }, { id: 'yes', label: w.acts.more.water }]} />
            {washed && <WaterField source={d.source} tap={d.tap} onSource={(source, tap) => put({ source, tap })} uses={['washing', 'cooling', 'harvest']} />}
            <Text label={t.product} value={product} onValue={product => put({ product })} />
            <Hour legend={w.acts.form.when} value={d.at} onValue={at => put({ at })} />
            <Late on={dayOf(d.at)} value={d.late} onValue={late => put({ late })} />
          </>
        )}
      </form>
      <Helper />
    </Page>
  )
}

// Lots picks what is on hand, the newest cut first.
function Lots({ lots, chosen, onChosen }: { lots: OnHand[]; chosen: string[]; onChosen: (codes: string[]) => void }) {
  const w = useWords()
  const t = w.acts.pack
  const [open, setOpen] = useState(chosen.length === 0)
  const picked = lots.filter(l => chosen.includes(l.code))
  if (lots.length === 0) return null
  if (!open && picked.length > 0) {
    return (
      <Picked label={t.from} change={w.change} onChange={() => setOpen(true)}>
        {picked.map(l => <div key={l.code}><b><Name>{l.name}</Name></b> <span class="mono"><Name>{l.code}</Name></span></div>)}
      </Picked>
    )
  }
  return (
    <>
      <Pick legend={t.from} ruled chosen={chosen} onPick={code => onChosen(toggled(chosen, code))}
        choices={lots.map(l => ({ id: l.code, label: <Name>{l.name}</Name>, under: <><span class="mono"><Name>{l.code}</Name></span> {t.onHand(amount(w, l.on_hand), l.cut_from === today() ? w.todayDay : day(w, l.cut_from))}</> }))} />
      {picked.length > 0 && lots.length > 4 && <p><button type="button" class="main" onClick={() => setOpen(false)}>{w.done}: {picked.length}</button></p>}
    </>
  )
}
