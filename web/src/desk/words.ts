// The words of the owner's desk. They come with the desk, not with the phone's first load.

import { useBook } from '../book/state'
import { deskPlacesEn, deskPlacesEs } from '../words/places'

export const deskEn = {
  title: deskPlacesEn.desk, lead: 'For the owner and the lead, on a larger screen.',
  first: {
    title: 'Open the farm’s book', lead: 'Four answers, and the book begins. Everything can be changed later; nothing is ever overwritten.',
    closed: 'A farm is here already. Sign in with a token.', code: 'Code from the terminal', farm: 'Name of the farm', zone: 'Time zone', you: 'Your name', initials: 'Your initials',
    rules: 'Which rules does the farm answer to?', rulesNote: 'Ask your certifier or inspector if you are not sure. A rule set that is not adopted is not judged.', units: 'Units', us: 'US: lb, °F', metric: 'Metric: kg, °C',
    go: 'Open the book',
  },
  setup: {
    title: deskPlacesEn.setup, done: 'done', token: 'Keep this token. It is shown once and lets you in on any phone or laptop:', tokenDone: 'I have written it down',
    plot: 'A plot', plotLead: 'A field, tunnel or piece of ground. Is it known what it was used for before?', plotName: 'Name of the plot', known: 'It is known', unknown: 'Not known',
    beds: 'Its beds', bedName: 'What are the beds called?', howMany: 'How many?', length: 'Length', width: 'Width', madeBeds: (n: number) => n === 1 ? '1 bed' : `${n} beds`,
    crop: 'A crop', cropName: 'Name of the crop', contact: 'Does what is sold touch the soil?', contacts: { touches: 'It touches', clear: 'Held clear of it', unknown: 'Not known' } as Record<string, string>,
    planting: 'A planting', planted: 'Planted on', where: 'In which beds?', cut: 'Cut and label', cutLead: 'If the bed is clear, the book gives the lot its code and its label.', go: 'Write it down', more: 'One more',
    people: 'The people', next: 'Next',
  },
  people: {
    title: deskPlacesEn.people, add: 'Somebody new', name: 'Name', initials: 'Initials', role: 'What may they do?',
    roles: { owner: 'owner: everything', lead: 'lead: also ground, crops, signatures', crew: 'crew: writes down what is done', reader: 'reader: sees, writes nothing' } as Record<string, string>,
    language: 'Language', pin: 'PIN for a shared phone (4 to 8 digits, may be left out)', token: 'Token for a phone', tokenLead: 'Show this square to the phone’s camera, or type the token. It is shown once.',
    forWhat: 'What is it for? (own phone, laptop …)', make: 'Make a token', tokens: 'Tokens and phones', revoke: 'End it', ended: 'ended', sure: 'Yes, end it', open: 'Open on a phone', phone: 'shared phone', none: 'none',
  },
  farm: { title: deskPlacesEn.farm, name: 'Name', address: 'Address', phone: 'Phone', certifier: 'Certifier', adopted: 'Rules the farm answers to', from: 'from', adopt: 'Adopt', drop: 'Drop', save: 'Save', saved: 'It is in the book. Lots already cut were judged by it again.', rules: (n: number) => (n === 1 ? '1 rule' : `${n} rules`) },
  recalls: {
    title: deskPlacesEn.recalls, start: 'Start one', code: 'Code of a lot or crate', reason: 'Why', drill: 'A drill', real: 'A real recall', realWarn: 'If somebody may be ill, call the health department first. Holds keep lots from leaving; a recall changes no lot by itself.',
    go: 'Start it', recipients: 'Who got it', letter: 'Letter', balance: 'What is accounted for', gaps: 'What the book cannot tell', report: 'Report (PDF)', minutes: (n: number) => `${n} minutes from its start to its end`, none: 'None yet.', back: 'came back', lots: 'Lots',
  },
  imports: {
    title: deskPlacesEn.imports, lead: 'One kind after the other, in this order. Try it first: nothing is written down before you say so, and then all of it or nothing.', file: 'Table (CSV)', kind: 'What is in it?',
    kinds: { beds: 'Beds', crops: 'Crops', customers: 'Buyers', plantings: 'Plantings', applications: 'Manure and inputs', harvests: 'Harvests' } as Record<string, string>,
    dry: 'Try it', write: (n: number) => `Write ${n} rows into the book`, rows: (n: number) => `${n} rows read`, line: 'line', problems: 'To mend first', warnings: 'Worth a look', fine: 'Nothing stands in the way.', written: (n: number) => `${n} records are in the book.`,
    reading: (n: number) => `${n} rows …`, stop: 'Stop', stopped: 'Stopped. Nothing was written.',
  },
  book: {
    title: deskPlacesEn.book, entries: (n: number) => `${n} entries`, root: 'Root', key: 'Public key', checkpoint: 'Signed checkpoint', keep: 'Keep a signed checkpoint away from the farm: later it shows that nothing before it was changed.', download: 'Save the checkpoint',
    copies: 'Copies of the whole book', copiesLead: 'The service makes them by itself when it is started with --backup FOLDER. Keep one on another machine.', last: 'Last entries',
  },
  things: {
    title: deskPlacesEn.things, customer: 'Buyers', source: 'Water sources', input: 'Inputs', delivery: 'Deliveries', delivered: 'What came?', usedFor: 'Used for', more: 'add to the list', batch: 'Compost piles', name: 'Name', kind: 'Kind',
    buyers: { restaurant: 'restaurant', grocer: 'grocer', wholesale: 'wholesale', school: 'school', market: 'market', shares: 'shares', 'farm-stand': 'farm stand', 'food-bank': 'food bank', other: 'other' } as Record<string, string>,
    contact: 'Who to call', phone: 'Phone', uses: 'What is it used for?', tap: 'Name of the tap', supplier: 'Supplier', received: 'Came on', quantity: 'How much', species: 'Of which animal?', add: 'Write it down', added: 'It is in the book.',
    categories: {
      'raw-manure': 'raw manure', 'aged-manure': 'aged manure', 'bought-compost': 'bought compost', 'processed-manure': 'processed manure', vermicompost: 'vermicompost', 'plant-material': 'plant material', mineral: 'mineral', 'animal-byproduct': 'animal by-product',
      'potting-mix': 'potting mix', seed: 'seed', transplant: 'transplants', sanitizer: 'sanitizer', 'crop-protection': 'crop protection',
    } as Record<string, string>,
    methods: { 'turned-windrow': 'turned windrow', 'aerated-static-pile': 'aerated static pile', 'in-vessel': 'in a vessel', passive: 'left alone', vermicompost: 'worms' } as Record<string, string>,
    code: 'Name of the pile', started: 'Built on', feedstock: 'What is in it?', animal: 'Is there manure or anything from animals in it?',
  },
  once: { lead: 'Copy it now: it is shown once. Whoever has it can open it.', address: 'Address', copy: 'Copy it', copied: 'Copied.', marked: 'It is marked: copy it by hand.' },
  papers: {
    title: deskPlacesEn.papers, lead: 'To hand over, or to hang up in the shed.', size: 'Paper', sizes: { letter: 'Letter', a4: 'A4' } as Record<string, string>,
    binder: 'Binder for an inspection', binderLead: 'The records of a period in the inspector’s order, with index, proofs and gaps.', scope: 'Whose inspection?',
    scopes: { 'produce-safety': 'Produce safety', organic: 'Organic', buyer: 'Buyer' } as Record<string, string>, from: 'From', to: 'To', crop: 'Trace and balance of a crop (if asked for)', getBinder: 'Get the binder (PDF)',
    plan: 'Traceability plan', planLead: 'With the map of the fields. What the book cannot know is left to fill in by hand.', getPlan: 'Get the plan (PDF)',
    forms: 'Blank forms', formsLead: 'For days without a phone. What is written on them goes into the book later, with the day it was done.',
    calendar: 'Calendar of what is due', calendarLead: 'An address for a calendar on your phone or laptop. It shows what a reader sees, and ends when a new one is made.', newCalendar: 'Make my address', endCalendar: 'End my address', calendarEnded: 'The address opens nothing any more.',
  },
  links: {
    title: deskPlacesEn.links, lead: 'A buyer sees what he got, until a day, without an account and without other buyers’ names.', new: 'A new link', all: 'Links', none: 'None yet.',
    which: 'Which buyer?', what: 'What does it show?', noShipments: 'Nothing was shipped to this buyer yet.', codes: 'Codes of lots, if not whole shipments', last: 'Last day it opens (at most a year)', make: 'Make the link', made: 'The link is in the book.',
    shipments: (n: number) => n === 1 ? '1 shipment' : `${n} shipments`, until: (day: string) => `opens until ${day}`, over: 'has ended', newAddress: 'New address', end: 'End it', endNow: 'End it now', why: 'Why does it end?',
  },
  layout: {
    title: deskPlacesEn.layout, lead: 'Old names end, new ones begin. The new beds keep what happened on the ground under them.', plot: 'In which plot?', ends: 'Which beds end?', on: 'From which day?',
    base: 'What are the new beds called?', many: 'How many?', name: 'New bed', over: 'lies on', length: 'Length', width: 'Width', table: 'New beds and the old ground under them',
    all: 'Each new bed lies on all of the old ones until you say otherwise, so that no history is lost. Take the mark away only where it surely does not lie on that ground.',
    lies: (bed: string, old: string) => `${bed} lies on ${old}`, nowhere: 'on which old ground each new bed lies', go: 'Lay them anew', done: 'The new beds are in the book, with the history of their ground.',
  },
  files: {
    title: deskPlacesEn.files, lead: 'A paper is sent once, and named by every record it belongs to. A file that was sent stays in the book.', send: 'Send a file', file: 'File (PDF, JPEG, PNG or WebP, at most 20 MB)', note: 'What is it? (if you like)',
    private: 'Only leads and the owner may see it', sendNow: 'Send it', stopped: 'Stopped. Nothing was written.', belongs: 'It belongs to a record:', all: 'Files in the book', none: 'None yet.', open: 'Save a copy', attach: 'Name it in a record',
    kind: 'What kind of record?', which: 'Which one?', already: 'this record names it already', attachNow: 'Name it in this record', attached: 'The record names the file now.', noRecords: 'There is no such record yet.',
    kinds: { 'water-tests': 'Water test', 'water-certificates': 'Water certificate', 'compost-lab-tests': 'Compost lab test', 'compost-batches': 'Compost pile', 'input-lots': 'Delivery', inputs: 'Input', applications: 'Spread', 'log-entries': 'Log entry', findings: 'Finding', 'corrective-actions': 'What was done' } as Record<string, string>,
    reason: (name: string) => `file added: ${name}`, files: (n: number) => n === 1 ? 'names 1 file' : `names ${n} files`,
  },
  beside: 'Something is not right yet. It stands beside its field.',
  messages: {
    title: deskPlacesEn.messages, lead: 'Be told every day what is due and who asks for it. What may be cut is not in it: look that up on the day.',
    all: 'Asked for', none: 'None yet.', new: 'Ask for one', way: 'How is it sent?', ways: { email: 'By e-mail', webhook: 'To another program' } as Record<string, string>,
    waysUnder: { email: 'to a mailbox', webhook: 'a signed webhook to its web address' } as Record<string, string>, where: { email: 'E-mail address', webhook: 'Address (https://…)' } as Record<string, string>,
    hour: 'From which hour of the farm’s day?', language: 'In which language?', ask: 'Ask for it', done: 'It comes every day from now on. Send a test to see that it arrives.',
    note: 'One that does not arrive is tried six times over four hours, then again the next day. It ends with the token you signed in with. You can have five.',
    daily: (hour: string) => `every day from ${hour}`, asked: 'asked for by', notYet: 'None was sent yet.', sent: (at: string) => `Sent last: ${at}.`, failed: (at: string) => `It did not arrive (${at}):`,
    ended: 'Nothing is sent any more: the person’s time, or the token it was asked for with, has ended. End it, and ask for it anew.',
    test: 'Send a test', tested: 'The test was sent. Look whether it arrived.', notTested: 'The test was not sent:', end: 'End it', sure: 'Yes, end it', secret: 'Signing secret',
    secretLead: 'Copy it now: it is shown once. Give it to the program that gets the messages and to nobody else: whoever has it can write messages that look like the book’s.',
  },
  phoneLink: { title: 'Open it on a phone', lead: 'Point the phone’s camera here. Phone and laptop must be on the same network.', trust: 'The page that opens says how the phone learns to trust this computer, once.' },
}

export const deskEs: typeof deskEn = {
  title: deskPlacesEs.desk, lead: 'Para el dueño y el encargado, en una pantalla más grande.',
  first: {
    title: 'Abrir el libro de la granja', lead: 'Cuatro respuestas y el libro empieza. Todo se puede cambiar después; nada se borra.',
    closed: 'Ya hay una granja aquí. Entre con una clave.', code: 'Código de la terminal', farm: 'Nombre de la granja', zone: 'Zona horaria', you: 'Su nombre', initials: 'Sus iniciales',
    rules: '¿A qué reglas responde la granja?', rulesNote: 'Pregunte a su certificadora o inspector si no está seguro. Una regla que no se adopta no se juzga.', units: 'Unidades', us: 'EE. UU.: lb, °F', metric: 'Métrico: kg, °C',
    go: 'Abrir el libro',
  },
  setup: {
    title: deskPlacesEs.setup, done: 'hecho', token: 'Guarde esta clave. Se muestra una sola vez y sirve para entrar en cualquier teléfono o computadora:', tokenDone: 'Ya la anoté',
    plot: 'Una parcela', plotLead: 'Un campo, túnel o pedazo de tierra. ¿Se sabe para qué se usó antes?', plotName: 'Nombre de la parcela', known: 'Se sabe', unknown: 'No se sabe',
    beds: 'Sus camas', bedName: '¿Cómo se llaman las camas?', howMany: '¿Cuántas?', length: 'Largo', width: 'Ancho', madeBeds: n => n === 1 ? '1 cama' : `${n} camas`,
    crop: 'Un cultivo', cropName: 'Nombre del cultivo', contact: '¿Lo que se vende toca la tierra?', contacts: { touches: 'La toca', clear: 'No la toca', unknown: 'No se sabe' },
    planting: 'Una siembra', planted: 'Sembrado el', where: '¿En qué camas?', cut: 'Cortar y etiquetar', cutLead: 'Si la cama está libre, el libro le da al lote su código y su etiqueta.', go: 'Anotarlo', more: 'Uno más',
    people: 'La gente', next: 'Seguir',
  },
  people: {
    title: deskPlacesEs.people, add: 'Alguien nuevo', name: 'Nombre', initials: 'Iniciales', role: '¿Qué puede hacer?',
    roles: { owner: 'dueño: todo', lead: 'encargado: también tierra, cultivos, firmas', crew: 'cuadrilla: anota lo que se hace', reader: 'lector: ve, no escribe' },
    language: 'Idioma', pin: 'PIN para un teléfono compartido (4 a 8 dígitos, si quiere)', token: 'Clave para un teléfono', tokenLead: 'Muestre este cuadro a la cámara del teléfono, o escriba la clave. Se muestra una sola vez.',
    forWhat: '¿Para qué es? (su teléfono, computadora …)', make: 'Hacer una clave', tokens: 'Claves y teléfonos', revoke: 'Terminarla', ended: 'terminada', sure: 'Sí, terminarla', open: 'Abrir en un teléfono', phone: 'teléfono compartido', none: 'ninguno',
  },
  farm: { title: deskPlacesEs.farm, name: 'Nombre', address: 'Dirección', phone: 'Teléfono', certifier: 'Certificadora', adopted: 'Reglas a las que responde la granja', from: 'desde', adopt: 'Adoptar', drop: 'Quitar', save: 'Guardar', saved: 'Está en el libro. Los lotes ya cortados se juzgaron otra vez.', rules: (n: number) => (n === 1 ? '1 regla' : `${n} reglas`) },
  recalls: {
    title: deskPlacesEs.recalls, start: 'Empezar uno', code: 'Código de un lote o caja', reason: 'Por qué', drill: 'Un simulacro', real: 'Un retiro de verdad', realWarn: 'Si alguien puede estar enfermo, llame primero al departamento de salud. Las retenciones detienen los lotes; un retiro por sí solo no cambia ningún lote.',
    go: 'Empezarlo', recipients: 'Quién lo recibió', letter: 'Carta', balance: 'De qué se da cuenta', gaps: 'Lo que el libro no puede decir', report: 'Informe (PDF)', minutes: n => `${n} minutos desde que empezó hasta que terminó`, none: 'Ninguno todavía.', back: 'devuelto', lots: 'Lotes',
  },
  imports: {
    title: deskPlacesEs.imports, lead: 'Una clase tras otra, en este orden. Pruébela primero: nada se escribe hasta que usted lo diga, y entonces todo o nada.', file: 'Tabla (CSV)', kind: '¿Qué contiene?',
    kinds: { beds: 'Camas', crops: 'Cultivos', customers: 'Compradores', plantings: 'Siembras', applications: 'Estiércol e insumos', harvests: 'Cosechas' },
    dry: 'Probar', write: n => `Escribir ${n} filas en el libro`, rows: n => `${n} filas leídas`, line: 'línea', problems: 'Por arreglar primero', warnings: 'Vale la pena mirar', fine: 'Nada lo impide.', written: n => `${n} registros están en el libro.`,
    reading: n => `${n} filas …`, stop: 'Parar', stopped: 'Parado. No se escribió nada.',
  },
  book: {
    title: deskPlacesEs.book, entries: n => `${n} entradas`, root: 'Raíz', key: 'Llave pública', checkpoint: 'Constancia firmada', keep: 'Guarde una constancia firmada lejos de la granja: después muestra que nada anterior se cambió.', download: 'Guardar la constancia',
    copies: 'Copias de todo el libro', copiesLead: 'El servicio las hace solo cuando se inicia con --backup CARPETA. Guarde una en otra máquina.', last: 'Últimas entradas',
  },
  things: {
    title: deskPlacesEs.things, customer: 'Compradores', source: 'Fuentes de agua', input: 'Insumos', delivery: 'Entregas', delivered: '¿Qué llegó?', usedFor: 'Se usa para', more: 'agregar a la lista', batch: 'Pilas de composta', name: 'Nombre', kind: 'Clase',
    buyers: { restaurant: 'restaurante', grocer: 'tienda', wholesale: 'mayorista', school: 'escuela', market: 'mercado', shares: 'canastas', 'farm-stand': 'puesto de la granja', 'food-bank': 'banco de alimentos', other: 'otro' },
    contact: 'A quién llamar', phone: 'Teléfono', uses: '¿Para qué se usa?', tap: 'Nombre de la llave', supplier: 'Proveedor', received: 'Llegó el', quantity: 'Cuánto', species: '¿De qué animal?', add: 'Anotarlo', added: 'Está en el libro.',
    categories: {
      'raw-manure': 'estiércol crudo', 'aged-manure': 'estiércol añejo', 'bought-compost': 'composta comprada', 'processed-manure': 'estiércol procesado', vermicompost: 'lombricomposta', 'plant-material': 'material vegetal', mineral: 'minerales', 'animal-byproduct': 'subproducto animal',
      'potting-mix': 'sustrato', seed: 'semilla', transplant: 'plántulas', sanitizer: 'desinfectante', 'crop-protection': 'protección de cultivos',
    },
    methods: { 'turned-windrow': 'hilera volteada', 'aerated-static-pile': 'pila estática aireada', 'in-vessel': 'en recipiente', passive: 'sin mover', vermicompost: 'lombrices' },
    code: 'Nombre de la pila', started: 'Armada el', feedstock: '¿Qué lleva?', animal: '¿Lleva estiércol o algo de animales?',
  },
  once: { lead: 'Cópiela ahora: se muestra una sola vez. Quien la tiene puede abrirla.', address: 'Dirección', copy: 'Copiarla', copied: 'Copiada.', marked: 'Está marcada: cópiela a mano.' },
  papers: {
    title: deskPlacesEs.papers, lead: 'Para entregar o para colgar en el galpón.', size: 'Papel', sizes: { letter: 'Carta', a4: 'A4' },
    binder: 'Carpeta para una inspección', binderLead: 'Los registros de un período en el orden del inspector, con índice, pruebas y vacíos. En inglés.', scope: '¿De quién es la inspección?',
    scopes: { 'produce-safety': 'Inocuidad', organic: 'Orgánica', buyer: 'Comprador' }, from: 'Desde', to: 'Hasta', crop: 'Rastreo y balance de un cultivo (si lo piden)', getBinder: 'Sacar la carpeta (PDF)',
    plan: 'Plan de trazabilidad', planLead: 'Con el mapa de los campos. Lo que el libro no puede saber queda para llenar a mano.', getPlan: 'Sacar el plan (PDF)',
    forms: 'Formularios en blanco', formsLead: 'Para días sin teléfono. Lo que se anota en ellos pasa después al libro, con el día en que se hizo.',
    calendar: 'Calendario de lo pendiente', calendarLead: 'Una dirección para el calendario de su teléfono o computadora. Muestra lo que ve un lector, y termina cuando se hace otra.', newCalendar: 'Hacer mi dirección', endCalendar: 'Terminar mi dirección', calendarEnded: 'La dirección ya no abre nada.',
  },
  links: {
    title: deskPlacesEs.links, lead: 'Un comprador ve lo que recibió, hasta un día, sin cuenta y sin los nombres de otros compradores.', new: 'Un enlace nuevo', all: 'Enlaces', none: 'Todavía ninguno.',
    which: '¿Qué comprador?', what: '¿Qué muestra?', noShipments: 'Todavía no se envió nada a este comprador.', codes: 'Códigos de lotes, si no son envíos enteros', last: 'Último día que abre (a lo más un año)', make: 'Hacer el enlace', made: 'El enlace está en el libro.',
    shipments: n => n === 1 ? '1 envío' : `${n} envíos`, until: day => `abre hasta ${day}`, over: 'terminó', newAddress: 'Dirección nueva', end: 'Terminarlo', endNow: 'Terminarlo ahora', why: '¿Por qué termina?',
  },
  layout: {
    title: deskPlacesEs.layout, lead: 'Los nombres viejos terminan y empiezan otros. Las camas nuevas guardan lo que pasó en la tierra que tienen debajo.', plot: '¿En qué parcela?', ends: '¿Qué camas terminan?', on: '¿Desde qué día?',
    base: '¿Cómo se llaman las camas nuevas?', many: '¿Cuántas?', name: 'Cama nueva', over: 'sobre', length: 'Largo', width: 'Ancho', table: 'Camas nuevas y la tierra vieja que tienen debajo',
    all: 'Cada cama nueva está sobre todas las viejas hasta que usted diga otra cosa, para que no se pierda ninguna historia. Quite la marca solo donde es seguro que no está sobre esa tierra.',
    lies: (bed, old) => `${bed} está sobre ${old}`, nowhere: 'sobre qué tierra está cada cama nueva', go: 'Cambiarlas', done: 'Las camas nuevas están en el libro, con la historia de su tierra.',
  },
  files: {
    title: deskPlacesEs.files, lead: 'Un papel se envía una vez, y lo nombra cada registro al que pertenece. Un archivo enviado se queda en el libro.', send: 'Enviar un archivo', file: 'Archivo (PDF, JPEG, PNG o WebP, a lo más 20 MB)', note: '¿Qué es? (si quiere)',
    private: 'Solo lo ven los encargados y el dueño', sendNow: 'Enviarlo', stopped: 'Parado. No se escribió nada.', belongs: 'Pertenece a un registro:', all: 'Archivos en el libro', none: 'Todavía ninguno.', open: 'Guardar una copia', attach: 'Nombrarlo en un registro',
    kind: '¿Qué clase de registro?', which: '¿Cuál?', already: 'este registro ya lo nombra', attachNow: 'Nombrarlo en este registro', attached: 'El registro ya nombra el archivo.', noRecords: 'Todavía no hay tal registro.',
    kinds: { 'water-tests': 'Análisis de agua', 'water-certificates': 'Certificado de agua', 'compost-lab-tests': 'Análisis de composta', 'compost-batches': 'Pila de composta', 'input-lots': 'Entrega', inputs: 'Insumo', applications: 'Esparcido', 'log-entries': 'Anotación', findings: 'Hallazgo', 'corrective-actions': 'Lo que se hizo' },
    reason: name => `archivo agregado: ${name}`, files: n => n === 1 ? 'nombra 1 archivo' : `nombra ${n} archivos`,
  },
  beside: 'Algo no está bien todavía. Está dicho junto a su campo.',
  messages: {
    title: deskPlacesEs.messages, lead: 'Reciba cada día lo pendiente y quién lo pide. No dice qué se puede cortar: eso se mira el mismo día.',
    all: 'Pedidos', none: 'Todavía ninguno.', new: 'Pedir uno', way: '¿Cómo se envía?', ways: { email: 'Por correo', webhook: 'A otro programa' },
    waysUnder: { email: 'a un buzón', webhook: 'un webhook firmado a su dirección web' }, where: { email: 'Dirección de correo', webhook: 'Dirección (https://…)' },
    hour: '¿Desde qué hora del día de la granja?', language: '¿En qué idioma?', ask: 'Pedirlo', done: 'Desde ahora llega cada día. Envíe una prueba para ver que llega.',
    note: 'El que no llega se intenta seis veces en cuatro horas, y otra vez al día siguiente. Termina con la clave con la que usted entró. Puede tener cinco.',
    daily: hour => `cada día desde ${hour.startsWith('1:') ? 'la' : 'las'} ${hour}`, asked: 'pedido por', notYet: 'Todavía no se ha enviado ninguno.', sent: at => `Último envío: ${at}.`, failed: at => `No llegó (${at}):`,
    ended: 'Ya no se envía nada: terminó el tiempo de la persona, o la clave con la que se pidió. Termínelo y pídalo de nuevo.',
    test: 'Enviar una prueba', tested: 'La prueba se envió. Mire si llegó.', notTested: 'La prueba no se envió:', end: 'Terminarlo', sure: 'Sí, terminarlo', secret: 'Secreto para firmar',
    secretLead: 'Cópielo ahora: se muestra una sola vez. Déselo al programa que recibe los mensajes y a nadie más: quien lo tiene puede escribir mensajes que parecen del libro.',
  },
  phoneLink: { title: 'Abrirlo en un teléfono', lead: 'Apunte la cámara del teléfono aquí. El teléfono y la computadora deben estar en la misma red.', trust: 'La página que se abre dice cómo el teléfono aprende a confiar en esta computadora, una vez.' },
}

export const useDesk = (): typeof deskEn => (useBook().language === 'es' ? deskEs : deskEn)
