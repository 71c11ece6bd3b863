// The book itself: how many entries, its signed checkpoint to keep elsewhere, and how copies of it are made.

import { useAnswer } from '../book/now'
import { useBook } from '../book/state'
import { Far } from '../parts/far'
import { Helper, Name, Page } from '../parts/page'
import { useDesk } from './words'

interface Checkpoint { size: number; root: string; note: string; verifier_key: string }

export function BookPage() {
  const t = useDesk().book
  const { known } = useBook()
  const checkpoint = useAnswer<Checkpoint>('/v1/book/checkpoint')
  const c = checkpoint.value
  const save = () => {
    const url = URL.createObjectURL(new Blob([c!.note], { type: 'text/plain' }))
    const link = document.createElement('a')
    link.href = url
    link.download = `checkpoint-${known?.on ?? ''}-${c!.size}.txt`
    link.click()
    setTimeout(() => URL.revokeObjectURL(url), 10_000)
  }
  return (
    <Page title={t.title} under={known && <Name>{known.farm.name}</Name>}>
      <Far of={checkpoint} />
      {c && (
        <>
          <p class="big">{t.entries(c.size)}</p>
          <dl class="facts"><dt>{t.root}</dt><dd class="mono"><Name>{c.root}</Name></dd><dt>{t.key}</dt><dd class="mono"><Name>{c.verifier_key}</Name></dd></dl>
          <p>{t.keep}</p>
          <p class="acts"><button type="button" onClick={save}>{t.download}</button></p>
        </>
      )}
      <section class="leaf"><h2>{t.copies}</h2><p>{t.copiesLead}</p></section>
      <Helper />
    </Page>
  )
}
