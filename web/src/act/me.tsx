// You and this phone: who does the work, in which language, and signing out.

import { useState } from 'preact/hooks'
import { setDoer, setLanguage, signOut } from '../book/book'
import { sharedPhone } from '../book/http'
import { useBook } from '../book/state'
import { today } from '../book/sync'
import { Languages } from '../parts/languages'
import { Helper, Name, Page } from '../parts/page'
import { Pick } from '../parts/pick'
import { OwnPin, Share } from '../parts/sharing'
import { go } from '../route'
import { atLeast } from '../book/role'
import { useWords } from '../words/words'

export function Me() {
  const w = useWords()
  const { known, doer, language, queue, token } = useBook()
  const [leaving, setLeaving] = useState(false)
  const people = (known?.people ?? []).filter(p => p.role !== 'reader' && (!p.ends_on || p.ends_on >= today()))
  const choices = [{ id: '', label: w.me.tokenOwner }, ...people.map(p => ({ id: p.id, label: <><b><Name>{p.initials}</Name></b> <Name>{p.name}</Name></> }))]
  return (
    <Page title={w.me.title} under={known && <Name>{known.farm.name}</Name>}>
      <h2>{w.me.language}</h2>
      <Languages language={language} onLanguage={setLanguage} />
      {token === sharedPhone ? <p><a class="go" href="/app/switch">{w.phone.change}</a></p> : (
        <>
          <Pick legend={w.me.who} choices={choices} chosen={[doer]} onPick={id => void setDoer(id)} wide />
          <p>{w.me.whoLead}</p>
          <OwnPin />
          {atLeast(known?.me?.role, 'lead') && <Share />}
        </>
      )}
      <h2>{w.me.signOut}</h2>
      {queue.length > 0 ? (
        <>
          <p class="why">{w.me.signOutWaits(queue.length)}</p>
          <p><a class="go" href="/app/waiting">{w.wait.title}</a></p>
        </>
      ) : leaving ? (
        <p class="acts">
          <button type="button" class="main" onClick={() => void signOut().then(() => go('/app/today'))}>{w.me.signOutYes}</button>
          <button type="button" onClick={() => setLeaving(false)}>{w.me.signOutNo}</button>
        </p>
      ) : (
        <>
          <p>{w.me.signOutLead}</p>
          <p><button type="button" onClick={() => setLeaving(true)}>{w.me.signOut}</button></p>
        </>
      )}
      <Helper />
    </Page>
  )
}
