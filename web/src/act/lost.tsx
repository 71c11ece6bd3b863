// A crate without its label, and labels that were thrown away: both are counted, so that labels and crates tie.

import { useState } from 'preact/hooks'
import { useBook } from '../book/state'
import { write } from '../book/sync'
import { CodesField } from '../parts/codes'
import { Finish, Hour, dayOf, momentOf, Numbers, OneOf, Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick, toggled } from '../parts/pick'
import { PicturesField, usePictures } from '../parts/pictures'
import { WhyField } from '../parts/why'
import { go, type Place } from '../route'
import { useWords } from '../words/words'

export function Lost() {
  const w = useWords()
  const t = w.mend.lost
  const { known } = useBook()
  const [d, put] = useDraft({ where: '', may: [] as string[], decision: 'set-aside', evidence: '', at: '' })
  const [busy, setBusy] = useState(false)
  const pictures = usePictures()
  const toggle = (code: string) => put({ may: toggled(d.may, code) })
  const missing = [
    !d.where.trim() && t.need.where, d.may.length === 0 && t.need.may, d.decision === 'identified' && d.may.length > 1 && t.need.one, d.decision === 'carries-all' && d.may.length < 2 && t.need.two,
    d.decision === 'identified' && !d.evidence.trim() && t.need.evidence,
  ]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    const { id } = await write({
      path: '/v1/lost-labels', pictures: pictures.taken,
      body: { found_at: momentOf(d.at), where: d.where.trim(), may_be: d.may, decision: d.decision, done_at: undefined, ...(d.evidence.trim() ? { evidence: d.evidence.trim() } : {}) },
      said: { act: 'lost', thing: d.may.join(', '), on: dayOf(d.at) },
    })
    go('/app/entry/' + id, true)
  }
  return (
    <Page title={t.title} under={t.lead}>
      <form onSubmit={done}>
        <WhyField legend={t.where} whys={t.places} other={t.placeOther} value={d.where} onValue={where => put({ where })} />
        {(known?.onHand ?? []).length > 0 && <Pick legend={t.may} chosen={d.may} onPick={toggle} choices={known!.onHand!.slice(0, 12).map(l => ({ id: l.code, label: <span class="mono"><Name>{l.code}</Name></span>, under: <Name>{l.name}</Name> }))} />}
        <CodesField label={t.code} codes={d.may} onCodes={may => put({ may })} />
        <OneOf legend={t.decision} of={t.decisions} value={d.decision} onValue={decision => put({ decision })} />
        {d.decision === 'identified' && <><Text long label={t.evidence} value={d.evidence} onValue={evidence => put({ evidence })} /><p class="note">{t.evidenceHint}</p></>}
        <PicturesField {...pictures} />
        <Hour legend={w.acts.form.when} value={d.at} onValue={at => put({ at })} />
        <Finish missing={missing} busy={busy || pictures.busy} label={t.done} />
      </form>
      <Helper />
    </Page>
  )
}

// Labels writes down labels of a lot that are on no crate.
export function Labels({ place }: { place: Place }) {
  const w = useWords()
  const t = w.mend.labels
  const lot = place.parts[1] ?? ''
  const code = place.asked.get('code') ?? ''
  const [d, put] = useDraft({ spoiled: '', void: '', why: '' })
  const [busy, setBusy] = useState(false)
  const missing = [!(Number(d.spoiled) + Number(d.void) > 0) && t.need.count, !d.why.trim() && t.need.why]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    const { id } = await write({
      path: '/v1/label-discards', body: { lot_id: lot, spoiled: Number(d.spoiled), void: Number(d.void), reason: d.why.trim() }, said: { act: 'discard', thing: code },
    })
    go('/app/entry/' + id, true)
  }
  if (!lot) return <Page title={t.title}><p>{t.which}</p><p><a class="go" href="/app/code">{w.tab.code}</a></p></Page>
  return (
    <Page title={t.title} under={<span class="mono"><Name>{code}</Name></span>}>
      <form onSubmit={done}>
        <Numbers fields={[
          { id: 'spoiled', label: t.spoiled, value: d.spoiled, point: false, onValue: spoiled => put({ spoiled }) },
          { id: 'void', label: t.void, value: d.void, point: false, onValue: v => put({ void: v }) },
        ]} />
        <WhyField legend={t.why} whys={t.whys} other={w.mend.holds.whyOther} value={d.why} onValue={why => put({ why })} />
        <Finish missing={missing} busy={busy} label={t.done} />
      </form>
      <Helper />
    </Page>
  )
}
