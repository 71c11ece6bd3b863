// Por qué algo no se pudo guardar o enviar. El servicio lo dice en inglés; lo que aquí no se conoce queda como vino.

const sentences: [RegExp, string][] = [
  // mensajes diarios: lo que no se acepta
  [/^This service sends no daily messages\.$/, 'Este servicio no envía mensajes diarios.'],
  [/^This service sends no e-mail\. Whoever runs it must start it with --smtp and --mail-from; a webhook works without\.$/,
    'Este servicio no envía correo. Quien lo maneja debe iniciarlo con --smtp y --mail-from; un webhook funciona sin eso.'],
  [/^Give one e-mail address and nothing else, as (.+)\.$/, 'Ponga una sola dirección de correo y nada más, como $1.'],
  [/^Give an address that begins with https:\/\/\.$/, 'Ponga una dirección que empiece con https://.'],
  [/^Give an address that begins with https:\/\/, without a name or password in it, and without a # part\.$/,
    'Ponga una dirección que empiece con https://, sin nombre ni contraseña, y sin parte con #.'],
  [/^Give an address that begins with https:\/\/\. One without encryption is taken only on a private network, if whoever runs the service starts it with --webhook-private\.$/,
    'Ponga una dirección que empiece con https://. Una sin cifrar solo se acepta en una red privada, si quien maneja el servicio lo inicia con --webhook-private.'],
  [/^That is an address of this machine or of a private network\. Whoever runs the service must allow it with --webhook-private\.$/,
    'Esa es una dirección de esta máquina o de una red privada. Quien maneja el servicio debe permitirla con --webhook-private.'],
  [/^You have (\d+) daily messages already\. End one of them first\.$/, 'Usted ya tiene $1 mensajes diarios. Termine uno primero.'],
  [/^It ended with the token by which it was asked for\. End it, and ask for it anew\.$/, 'Terminó con la clave con la que se pidió. Termínelo y pídalo de nuevo.'],
  [/^A test of this message was sent within the minute\.$/, 'Hace menos de un minuto se envió una prueba de este mensaje. Espere un poco.'],
  // números GS1 de la granja: lo que no se acepta
  [/^Item references stand behind a GS1 company prefix; give gs1_prefix as well\.$/, 'Las referencias van después de un prefijo de empresa de GS1; ponga también el prefijo.'],
  [/^Behind the prefix (\d+) there is room for (\d+) digits; copy them from the farm's own list of numbers\.$/, 'Después del prefijo $1 caben $2 dígitos; cópielos de la lista de números de la granja.'],
  [/^This product is named twice\.$/, 'Este producto está dos veces.'],
  [/^Another product has this number already\. Every kind of case has its own\.$/, 'Otro producto ya tiene este número. Cada clase de caja tiene el suyo.'],
  [/^Copy the company prefix from the GS1 licence, 4 to 12 digits, or leave it out: nothing asks for one\.$/, 'Copie el prefijo de la licencia de GS1, de 4 a 12 dígitos, o déjelo vacío: nada lo pide.'],
  [/^Prefixes that begin with 952 are for examples and must not stand on real produce\.$/, 'Los prefijos que empiezan con 952 son para ejemplos y no deben ir en productos de verdad.'],
  // por qué no llegó
  [/^the webhook answered (\d+): it points elsewhere, and redirects are not followed$/, 'el webhook contestó $1: manda a otra dirección, y el libro no la sigue'],
  [/^the webhook answered (\d+)$/, 'el webhook contestó $1'],
  [/^the webhook broke off its answer$/, 'el webhook cortó su respuesta'],
  [/^the webhook did not answer in time$/, 'el webhook no contestó a tiempo'],
  [/^the name of the webhook is not known$/, 'no se conoce el nombre del webhook'],
  [/^the webhook can't be reached$/, 'no se puede llegar al webhook'],
  [/^the webhook could not be spoken to: (.+)$/, 'no se pudo hablar con el webhook: $1'],
  [/^the address can't be read$/, 'no se puede leer la dirección'],
  [/^the address lies on this machine or on a private network$/, 'la dirección está en esta máquina o en una red privada'],
  [/^without encryption it is sent to private networks only$/, 'sin cifrar solo se envía a redes privadas'],
  [/^the mail server refused the letter: (.+)$/, 'el servidor de correo rechazó la carta: $1'],
  [/^the mail server can't be reached: (.+)$/, 'no se puede llegar al servidor de correo: $1'],
  [/^the mail server did not take the letter: (.+)$/, 'el servidor de correo no aceptó la carta: $1'],
  [/^the address is not one that mail can be sent to$/, 'a esa dirección no se puede enviar correo'],
  [/^the time of the person, or the token by which it was asked for, has ended$/, 'terminó el tiempo de la persona, o la clave con la que se pidió'],
  [/^the day was over before it could be sent$/, 'el día terminó antes de poder enviarlo'],
]

export function refusedEs(said: string): string {
  for (const [from, to] of sentences) if (from.test(said)) return said.replace(from, to)
  return said
}
