// Recalls and drills: start one from a code, see who got it, the letters, what is accounted for and what is not known.

import { readCode } from '../book/code'
import { useAnswer } from '../book/now'
import type { Quantity } from '../book/records'
import { Far } from '../parts/far'
import { Text, useDraft } from '../parts/fields'
import { Helper, Name, Page, Phone } from '../parts/page'
import { Pick } from '../parts/pick'
import { FileButton, PrintButton } from '../parts/picture'
import { go, type Place } from '../route'
import { amount, day, useWords } from '../words/words'
import { Form } from './form'
import { useDesk } from './words'

interface RecallLine { id: string; drill: boolean; reason: string; started_at?: string; done_on?: string; voided?: boolean }
interface RecallAnswer extends RecallLine {
  lots: { code: string; name: string; on_hand: Quantity; held: boolean }[]
  recipients: { customer_id: string; name: string; phone?: string; got: { lot: string; quantity: Quantity; at: string; reference?: string; back?: boolean }[] }[]
  balance: { unit: string; made: string; accounted_pct: string; said: string }[]
  letters: { customer_id: string; text: string }[]
  minutes: number
  gaps: string[]
  caution: string
}

export function Recalls({ place }: { place: Place }) {
  const w = useWords()
  const t = useDesk().recalls
  const list = useAnswer<RecallLine[]>('/v1/recalls')
  const [d, put] = useDraft({ code: '', reason: '', drill: 'drill' })
  if (place.parts[1]) return <One id={place.parts[1]} />
  const reading = readCode(d.code)
  return (
    <Page title={t.title}>
      <Form<{ id: string }> path="/v1/recalls" label={t.go} missing={[reading.state !== 'fits' && t.code, !d.reason.trim() && t.reason]} onDone={made => go('/app/recalls/' + made.id)}
        body={() => ({ start: reading.state === 'fits' ? (reading.crate ? { crate: reading.text } : { lot: reading.lot }) : {}, drill: d.drill === 'drill', reason: d.reason.trim() })}>
        <Pick legend={t.start} three chosen={[d.drill]} onPick={drill => put({ drill })} choices={[{ id: 'drill', label: t.drill }, { id: 'real', label: t.real }]} />
        {d.drill === 'real' && <p class="why" role="alert">{t.realWarn}</p>}
        <Text label={t.code} value={d.code} onValue={code => put({ code })} />
        <Text label={t.reason} value={d.reason} onValue={reason => put({ reason })} />
      </Form>
      <section class="leaf">
        <h2>{t.title}</h2>
        <Far of={list} />
        {list.value?.length === 0 && <p>{t.none}</p>}
        <ul class="acts-list">{list.value?.filter(r => !r.voided).map(r => <li key={r.id}><a href={'/app/recalls/' + r.id}><b>{r.drill ? t.drill : t.real}</b> <span><Name>{r.reason}</Name>, {day(w, (r.started_at ?? r.done_on ?? '').slice(0, 10))}</span></a></li>)}</ul>
      </section>
      <Helper />
    </Page>
  )
}

function One({ id }: { id: string }) {
  const w = useWords()
  const t = useDesk().recalls
  const recall = useAnswer<RecallAnswer>('/v1/recalls/' + id)
  const r = recall.value
  return (
    <Page title={r ? (r.drill ? t.drill : t.real) : t.title} under={r && <Name>{r.reason}</Name>}>
      <Far of={recall} />
      {r && (
        <>
          <p class="why">{w.said(r.caution)}</p>
          <p>{t.minutes(r.minutes)}</p>
          <h2>{t.lots}</h2>
          <ul class="plain">{r.lots.map(l => <li key={l.code}><span class="mono"><Name>{l.code}</Name></span> <Name>{l.name}</Name>, {w.look.onHand}: {amount(w, l.on_hand)}{l.held && `, ${w.look.held}`}</li>)}</ul>
          <h2>{t.balance}</h2>
          <ul class="plain">{r.balance.map(b => <li key={b.unit}><b>{b.accounted_pct}%</b> <bdi>{w.said(b.said)}</bdi></li>)}</ul>
          <h2>{t.recipients}</h2>
          <ul class="plain">
            {r.recipients.map(x => (
              <li key={x.customer_id}>
                <b><Name>{x.name}</Name></b> {x.phone && <Phone>{x.phone}</Phone>}
                {x.got.map((g, i) => <p key={i}><span class="mono"><Name>{g.lot}</Name></span> {amount(w, g.quantity)}, {day(w, g.at.slice(0, 10))} <Name>{g.reference}</Name>{g.back && <b>{t.back}</b>}</p>)}
                <details><summary>{t.letter}</summary><pre class="letter" lang="en"><bdi>{r.letters.find(l => l.customer_id === x.customer_id)?.text}</bdi></pre></details>
              </li>
            ))}
          </ul>
          {r.gaps.length > 0 && <><h2>{t.gaps}</h2><ul class="dashes">{r.gaps.map((g, i) => <li key={i}><bdi>{w.said(g)}</bdi></li>)}</ul></>}
          <p class="acts"><FileButton path={`/v1/recalls/${id}/report.pdf`} name={`recall-${id.slice(0, 8)}.pdf`}>{t.report}</FileButton><PrintButton /></p>
        </>
      )}
      <Helper />
    </Page>
  )
}
