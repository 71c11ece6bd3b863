// Sign in with a token: pasted, scanned, or brought along in a link after a # sign, which no server ever sees.

import { useEffect, useState } from 'preact/hooks'
import { setLanguage, signIn } from '../book/book'
import { useBook } from '../book/state'
import { Languages } from '../parts/languages'
import { Page } from '../parts/page'
import { Scan } from '../parts/scan'
import { useWords } from '../words/words'

export function SignIn() {
  const w = useWords()
  const { queue, language } = useBook()
  const [token, setToken] = useState('')
  const [answer, setAnswer] = useState('')
  const [busy, setBusy] = useState(false)
  const tryIt = async (text: string) => {
    if (!text.trim() || busy) return
    setBusy(true)
    const result = await signIn(text)
    setBusy(false)
    setAnswer({ ok: '', 'no-signal': w.signIn.noSignal, unknown: w.signIn.unknown, 'other-farm': w.signIn.otherFarm }[result])
  }
  useEffect(() => {
    if (location.hash.length < 10) return
    const brought = location.hash.slice(1)
    history.replaceState(null, '', location.pathname) // the token must not stay in the address
    void tryIt(brought)
  }, [])
  return (
    <Page title={w.signIn.title}>
      <Languages language={language} onLanguage={setLanguage} />
      <p>{w.signIn.lead}</p>
      {queue.length > 0 && <p class="why">{w.signIn.kept(queue.length)}</p>}
      <form onSubmit={e => { e.preventDefault(); void tryIt(token) }}>
        <label class="field" for="token">{w.signIn.token}</label>
        <input id="token" class="mono" autocomplete="off" autocapitalize="none" spellcheck={false} value={token} onInput={e => setToken(e.currentTarget.value)} />
        {answer && <p class="why" role="alert">{answer}</p>}
        <button class="main whole" disabled={busy}>{busy ? w.working : w.signIn.go}</button>
      </form>
      <Scan label={w.signIn.scan} onCode={text => { setToken(text.replace(/^.*#/, '')); void tryIt(text) }} />
    </Page>
  )
}
