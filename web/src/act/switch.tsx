// Changing over on a shared phone: who are you, and your PIN. What is written from then on carries that person's name.

import { useEffect, useState } from 'preact/hooks'
import { askPhone, changeOver, leavePhone, writeAs } from '../book/book'
import { useBook } from '../book/state'
import { Pad } from '../parts/pad'
import { Name, Page } from '../parts/page'
import { Pick, Picked } from '../parts/pick'
import { go, type Place } from '../route'
import { useWords } from '../words/words'

export function Switch({ place }: { place: Place }) {
  const w = useWords()
  const t = w.phone
  const { phone, person, queue } = useBook()
  const [who, setWho] = useState('')
  const [pin, setPin] = useState('')
  const [told, setTold] = useState('')
  const [far, setFar] = useState(false)
  const [ended, setEnded] = useState(false)
  const [busy, setBusy] = useState(false)
  useEffect(() => void askPhone().then(answer => { setFar(answer === 'no-signal'); setEnded(answer === 'ended') }), [])
  const onward = () => go(place.parts[0] === 'switch' ? '/app/today' : location.pathname + location.search, true)
  const people = phone?.people ?? []
  const chosen = people.find(p => p.id === who)
  const there = people.find(p => p.id === person)
  const waitsFor = (id: string) => queue.filter(e => e.typer === id && e.state === 'waiting').length
  const done = async (e: Event) => {
    e.preventDefault()
    if (pin.length < 4 || busy) return
    setBusy(true)
    const answer = await changeOver(who, pin)
    setBusy(false)
    setPin('')
    if (answer.far) setFar(true)
    else if (answer.problem) setTold(answer.problem)
    else onward()
  }
  const press = (key: string) => setPin(p => (key === 'erase' ? p.slice(0, -1) : (p + key).slice(0, 8)))
  return (
    <Page title={t.who} under={phone && <Name>{phone.label}</Name>}>
      {ended && <p class="why" role="alert">{t.ended} <a class="go" href="/app/signin">{w.signIn.go}</a></p>}
      {!chosen && people.length > 0 && (
        <Pick legend={t.pick} wide chosen={[person]} onPick={id => { setWho(id); setTold(''); setPin('') }}
          choices={people.map(p => ({ id: p.id, label: <><b><Name>{p.initials}</Name></b> <Name>{p.name}</Name></>, under: waitsFor(p.id) > 0 ? w.waitingCount(waitsFor(p.id)) : undefined }))} />
      )}
      {phone && people.length === 0 && <p>{t.noPins}</p>}
      {chosen && (
        <form onSubmit={done}>
          <Picked label={t.who} change={w.change} onChange={() => { setWho(''); setTold('') }}><b><Name>{chosen.name}</Name></b></Picked>
          {far ? (
            <>
              <p class="why" role="status">{t.far}</p>
              <button type="button" class="main whole" onClick={() => void writeAs(who).then(onward)}>{t.writeFar}</button>
            </>
          ) : (
            <>
              <label class="field" for="pin">{t.pin}</label>
              <input id="pin" class="big" type="password" inputMode="none" autocomplete="off" value={pin} onInput={e => { const v = e.currentTarget.value.replace(/\D/g, '').slice(0, 8); e.currentTarget.value = v; setPin(v) }} />
              {told && <p class="told slip" role="alert" lang="en"><bdi>{told}</bdi></p>}
              <Pad point={false} onKey={press} />
              <button class="main whole" disabled={pin.length < 4 || busy}>{busy ? w.working : t.go}</button>
            </>
          )}
        </form>
      )}
      {there && !chosen && (
        <p class="acts">
          <button type="button" onClick={() => void leavePhone().then(() => go('/app/switch', true))}>{t.leave}</button>
          <a class="go" href="/app/me">{w.me.title}</a>
        </p>
      )}
    </Page>
  )
}

