// Taps that could not be sent, in the browser's own small database, until the server has them.
// Each holds the session's number, an id, short codes and a time: no name, no word of a person's health.

const NAME = "chair";
const STORE = "taps";

function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "order", autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

async function inStore(mode, work) {
  const database = await opened();
  return new Promise((resolve, reject) => {
    const request = work(database.transaction(STORE, mode).objectStore(STORE));
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
    // It ends once what was asked is done: a page that is open all day would pile up thousands.
    database.close();
  });
}

export const keep = (tap) => inStore("readwrite", (store) => store.add(tap));
// A browser that keeps nothing, as behind some private windows or a full disk, has nothing waiting: its taps still go
// out while there is a network.
export const waiting = () => inStore("readonly", (store) => store.getAll()).catch(() => []);
export const drop = (order) => inStore("readwrite", (store) => store.delete(order));
