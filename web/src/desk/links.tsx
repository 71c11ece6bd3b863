// Links for buyers: each shows one buyer what he got, until a day, without an account. The address is shown once.

import { useState } from 'preact/hooks'
import { readCode } from '../book/code'
import { addDays } from '../book/days'
import { doNow, useAnswer } from '../book/now'
import { useBook } from '../book/state'
import { today } from '../book/sync'
import { Far } from '../parts/far'
import { Text, useDraft } from '../parts/fields'
import { nameOf } from '../parts/facts'
import { Helper, Name, Page } from '../parts/page'
import { Pick, toggled } from '../parts/pick'
import { day, useWords } from '../words/words'
import { Form } from './form'
import { Once } from './once'
import { useDesk } from './words'

interface Link { id: string; customer_id: string; shipment_ids?: string[]; lots?: string[]; expires_on: string; voided?: boolean }
interface Shipment { id: string; shipped_at: string; reference?: { number: string }; moved?: { code: string }[]; voided?: boolean }

export function Links() {
  const w = useWords()
  const t = useDesk().links
  const links = useAnswer<Link[]>('/v1/buyer-links')
  const [url, setUrl] = useState('')
  const [told, setTold] = useState('')
  const open = async (id: string) => {
    const done = await doNow<{ url: string }>(`/v1/buyer-links/${id}/address`, {})
    if ('written' in done) { setUrl(done.written.url); scrollTo(0, 0) } else setTold('problem' in done ? done.problem.detail : w.acts.form.online)
    links.again()
  }
  return (
    <Page title={t.title} under={t.lead}>
      {url && <Once secret={url} onDone={() => setUrl('')} />}
      {told && <p class="why" role="alert"><bdi>{told}</bdi></p>}
      <section class="leaf"><h2>{t.new}</h2><New onMade={id => void open(id)} /></section>
      <section class="leaf">
        <h2>{t.all}</h2>
        <Far of={links} />
        {links.value?.length === 0 && <p>{t.none}</p>}
        <ul class="plain">{links.value?.map(l => <Line key={l.id} link={l} onOpen={() => void open(l.id)} again={links.again} />)}</ul>
      </section>
      <Helper />
    </Page>
  )
}

function Line({ link, onOpen, again }: { link: Link; onOpen: () => void; again: () => void }) {
  const w = useWords()
  const t = useDesk().links
  const { known } = useBook()
  const [step, setStep] = useState<'' | 'end'>('')
  const name = nameOf(known, link.customer_id) ?? ''
  const over = link.voided || link.expires_on < today()
  const shows = [link.shipment_ids?.length ? t.shipments(link.shipment_ids.length) : '', link.lots?.join(', ') ?? ''].filter(Boolean).join('; ')
  return (
    <li>
      <p><b><Name>{name}</Name></b>, {shows}<br />{over ? t.over : t.until(day(w, link.expires_on))}</p>
      {!over && step === '' && (
        <p class="acts">
          <button type="button" onClick={onOpen}>{t.newAddress}<span class="unseen"> {name}</span></button>
          <button type="button" onClick={() => setStep('end')}>{t.end}<span class="unseen"> {name}</span></button>
        </p>
      )}
      {step === 'end' && <Reason id={link.id} onDone={() => { setStep(''); again() }} />}
    </li>
  )
}

function Reason({ id, onDone }: { id: string; onDone: () => void }) {
  const t = useDesk().links
  const [reason, setReason] = useState('')
  return (
    <Form path={`/v1/buyer-links/${id}/void`} label={t.endNow} missing={[!reason.trim() && t.why]} onDone={onDone} body={() => ({ reason: reason.trim() })}>
      <Text label={t.why} value={reason} onValue={setReason} />
    </Form>
  )
}

function New({ onMade }: { onMade: (id: string) => void }) {
  const w = useWords()
  const t = useDesk().links
  const { known } = useBook()
  const [d, put] = useDraft({ customer: '', shipments: [] as string[], lots: '', until: addDays(today(), 30) })
  const shipments = useAnswer<Shipment[]>(d.customer ? `/v1/shipments?customer_id=${d.customer}&limit=50` : '')
  const lots = d.lots.split(/[\s,;]+/).filter(Boolean).map(readCode)
  const slips = lots.some(l => l.state !== 'fits')
  const here = (d.customer && shipments.value?.filter(s => !s.voided)) || []
  return (
    <Form<Link> path="/v1/buyer-links" label={t.make} said={t.made} onDone={made => { put({ customer: '', shipments: [], lots: '' }); onMade(made.id) }}
      missing={[!d.customer && t.which, d.shipments.length + lots.length === 0 && t.what, slips && t.codes, !d.until && t.last]}
      body={() => ({
        customer_id: d.customer, expires_on: d.until, ...(d.shipments.length ? { shipment_ids: d.shipments } : {}), ...(lots.length ? { lots: lots.flatMap(l => (l.state === 'fits' ? [l.lot] : [])) } : {}),
      })}>
      <Pick legend={t.which} chosen={[d.customer]} onPick={customer => put({ customer, shipments: [] })} choices={(known?.customers ?? []).map(c => ({ id: c.id, label: <Name>{c.name}</Name> }))} />
      {d.customer && shipments.value && here.length === 0 && <p>{t.noShipments}</p>}
      {here.length > 0 && (
        <Pick wide legend={t.what} chosen={d.shipments} onPick={id => put({ shipments: toggled(d.shipments, id) })}
          choices={here.map(s => ({ id: s.id, label: <>{day(w, s.shipped_at.slice(0, 10))} <Name>{s.reference?.number}</Name></>, under: <Name>{[...new Set(s.moved?.map(m => m.code) ?? [])].join(', ')}</Name> }))} />
      )}
      <Text label={t.codes} value={d.lots} onValue={lots => put({ lots })} />
      <Text kind="date" label={t.last} value={d.until} onValue={until => put({ until })} />
    </Form>
  )
}
