// Daily messages: who is told every day what is due, where and at which hour, and why one did not arrive.

import { useState } from 'preact/hooks'
import { dayIn, timeIn } from '../book/days'
import { doNow, useAnswer, type Done } from '../book/now'
import { useBook } from '../book/state'
import { Far } from '../parts/far'
import { Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick } from '../parts/pick'
import { day, useWords, type Words } from '../words/words'
import { Form } from './form'
import { Once } from './once'
import { Said, WhyNot } from './said'
import { useDesk } from './words'

interface Message {
  id: string; person_id: string; person: string; way: 'email' | 'webhook'; to: string; hour: number; language: string
  sent_at?: string; failed_at?: string; error?: string; ended?: boolean
}

const tongues: Record<string, string> = { en: 'English', es: 'Español' }

// sayHour writes an hour of the day as people say it.
const sayHour = (w: Words, hour: number): string => new Intl.DateTimeFormat(w.locale, { hour: 'numeric', minute: '2-digit', timeZone: 'UTC' }).format(new Date(Date.UTC(2026, 0, 1, hour)))

export function Messages() {
  const t = useDesk().messages
  const list = useAnswer<Message[]>('/v1/daily-messages')
  const [secret, setSecret] = useState('')
  return (
    <Page title={t.title} under={t.lead}>
      {secret && <Once secret={secret} lead={t.secretLead} label={t.secret} onDone={() => setSecret('')} />}
      <section class="leaf">
        <h2>{t.all}</h2>
        <Far of={list} />
        {list.value?.length === 0 && <p>{t.none}</p>}
        <ul class="plain">{list.value?.map(m => <Line key={m.id} message={m} again={list.again} />)}</ul>
      </section>
      <section class="leaf"><h2>{t.new}</h2><New onAsked={s => { setSecret(s); list.again(); if (s) scrollTo(0, 0) }} /></section>
      <Helper />
    </Page>
  )
}

function Line({ message: m, again }: { message: Message; again: () => void }) {
  const w = useWords()
  const t = useDesk().messages
  const { known } = useBook()
  const [step, setStep] = useState<'' | 'end' | 'sending'>('')
  const [tested, setTested] = useState<Done<{ sent: boolean; error?: string }>>()
  const [kept, setKept] = useState<Exclude<Done<unknown>, { written: unknown }>>()
  const zone = known?.farm.time_zone
  const moment = (at: string) => `${day(w, dayIn(zone, new Date(at)))}, ${timeIn(zone, new Date(at))}`
  const mine = m.person_id === known?.me?.person_id
  const test = async () => {
    setStep('sending')
    setTested(undefined)
    setTested(await doNow(`/v1/daily-messages/${m.id}/test`, {}))
    setStep('')
  }
  const end = async () => {
    const done = await doNow(`/v1/daily-messages/${m.id}/end`, {})
    if ('written' in done) return again()
    setStep('')
    setKept(done)
  }
  return (
    <li>
      <p>
        {t.ways[m.way]}: <b><Name>{m.to}</Name></b><br />
        {t.daily(sayHour(w, m.hour))}, {tongues[m.language] ?? m.language}{!mine && <>, {t.asked} <Name>{m.person}</Name></>}
      </p>
      {m.ended ? <p class="told slip">{t.ended}</p>
        : m.failed_at ? <p class="told slip">{t.failed(moment(m.failed_at))} <Said>{m.error ?? ''}</Said></p>
          : <p>{m.sent_at ? t.sent(moment(m.sent_at)) : t.notYet}</p>}
      {m.failed_at && m.sent_at && <p>{t.sent(moment(m.sent_at))}</p>}
      {tested && ('written' in tested && tested.written.sent ? <p role="status"><b>{t.tested}</b></p>
        : <p class="told slip" role="alert">{t.notTested} {'written' in tested ? <Said>{tested.written.error ?? ''}</Said> : <WhyNot of={tested} />}</p>)}
      {kept && <p class="told slip" role="alert"><WhyNot of={kept} /></p>}
      <p class="acts">
        {step === 'end'
          ? <><button type="button" class="main" onClick={() => void end()}>{t.sure}</button><button type="button" onClick={() => setStep('')}>{w.back}</button></>
          : <>
            {mine && !m.ended && <button type="button" disabled={step === 'sending'} onClick={() => void test()}>{step === 'sending' ? w.working : t.test}<span class="unseen"> {m.to}</span></button>}
            <button type="button" onClick={() => setStep('end')}>{t.end}<span class="unseen"> {m.to}</span></button>
          </>}
      </p>
    </li>
  )
}

function New({ onAsked }: { onAsked: (secret: string) => void }) {
  const w = useWords()
  const t = useDesk().messages
  const { language } = useBook()
  const [d, put] = useDraft({ way: 'email', to: '', hour: 6, language: language as string })
  return (
    <Form<{ secret?: string }> path="/v1/daily-messages" label={t.ask} said={t.done} missing={[!d.to.trim() && t.where[d.way]]} onDone={made => { put({ to: '' }); onAsked(made.secret ?? '') }}
      body={() => ({ way: d.way, to: d.to.trim(), hour: d.hour, language: d.language })}>
      {at => (
        <>
          <Pick legend={t.way} wide chosen={[d.way]} onPick={way => put({ way })} choices={Object.keys(t.ways).map(id => ({ id, label: t.ways[id], under: t.waysUnder[id] }))} />
          {at('/way') && <p class="told slip"><Said>{at('/way')!}</Said></p>}
          <Text label={t.where[d.way]!} value={d.to} onValue={to => put({ to })} slip={at('/to') && <Said>{at('/to')!}</Said>} />
          <label class="field">{t.hour}
            <select value={d.hour} onChange={e => put({ hour: Number(e.currentTarget.value) })}>
              {Array.from({ length: 24 }, (_, hour) => <option key={hour} value={hour}>{sayHour(w, hour)}</option>)}
            </select>
          </label>
          <Pick legend={t.language} three chosen={[d.language]} onPick={language => put({ language })} choices={Object.entries(tongues).map(([id, label]) => ({ id, label }))} />
          <p class="note">{t.note}</p>
        </>
      )}
    </Form>
  )
}
