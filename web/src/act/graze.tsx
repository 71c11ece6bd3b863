// Animals on the ground: what grazed or scratched where, from when until when.

import { useState } from 'preact/hooks'
import { useBook } from '../book/state'
import { today, write } from '../book/sync'
import { CutBefore, saidBefore, useCutsOn } from '../parts/cutbefore'
import { BedsField, Finish, Late, Numbers, Text, useDraft } from '../parts/fields'
import { Helper, Page } from '../parts/page'
import { Pick } from '../parts/pick'
import { When } from '../parts/when'
import { go, type Place } from '../route'
import { useWords } from '../words/words'

export function Graze({ place }: { place: Place }) {
  const w = useWords()
  const t = w.acts.graze
  const { known, habits } = useBook()
  const asked = place.asked.get('bed') ?? habits.bed
  const [d, put] = useDraft({ species: '', other: false, beds: asked ? [asked] : [] as string[], from: today(), to: '', still: true, head: '', late: '', before: [] as string[] })
  const [busy, setBusy] = useState(false)
  const beds = known?.beds.filter(b => d.beds.includes(b.id)) ?? []
  const cuts = useCutsOn(d.beds, d.from)
  const missing = [!d.species.trim() && t.need.what, beds.length === 0 && t.need.where]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    const to = d.still ? undefined : d.to || today()
    const { id } = await write({
      path: '/v1/grazings',
      body: {
        species: d.species.trim(), ground: { bed_ids: d.beds }, from: d.from, ...(to ? { to } : {}), ...(Number(d.head) > 0 ? { head: Number(d.head) } : {}), done_at: undefined,
        ...saidBefore(cuts, d.before), ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
      },
      said: { act: 'graze', beds: beds.map(b => b.name), thing: d.species, on: d.from },
      touches: { bed_ids: d.beds, what: d.species, on: d.from, seen: true },
    })
    go('/app/entry/' + id, true)
  }
  return (
    <Page title={t.title}>
      <form onSubmit={done}>
        <Pick legend={t.what} chosen={[d.other ? 'other' : d.species]} onPick={id => put(id === 'other' ? { other: true, species: '' } : { other: false, species: id })}
          choices={[...t.kinds.map(k => ({ id: k, label: k })), { id: 'other', label: t.otherKind }]} />
        {d.other && <Text label={t.otherKind} value={d.species} onValue={species => put({ species })} />}
        <BedsField chosen={d.beds} onChosen={beds => put({ beds })} />
        <When legend={t.from} value={d.from} onValue={from => put({ from })} />
        <CutBefore of={cuts} chosen={d.before} onChosen={before => put({ before })} />
        <Pick legend={t.to} three chosen={[d.still ? 'still' : 'day']} onPick={id => put({ still: id === 'still', to: d.to || today() })}
          choices={[{ id: 'still', label: t.still }, { id: 'day', label: w.otherDay }]} />
        {!d.still && <input type="date" aria-label={t.to} min={d.from} max={today()} value={d.to || today()} onInput={e => put({ to: e.currentTarget.value })} />}
        <Late on={d.still ? d.from : d.to || today()} value={d.late} onValue={late => put({ late })} />
        <Numbers fields={[{ id: 'head', label: t.head, value: d.head, point: false, onValue: head => put({ head }) }]} />
        <p class="note">{t.note}</p>
        <Finish missing={missing} busy={busy} label={w.acts.form.done} />
      </form>
      <Helper />
    </Page>
  )
}
