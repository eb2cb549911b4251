// Loaded before a server: there is no network. Whoever tries to reach it is written down, and finds
// nobody at home.
const { Socket } = require("node:net");
const connect = Socket.prototype.connect;

Socket.prototype.connect = function () {
  process.stderr.write("TRIED\n");
  return connect.call(this, { host: "127.0.0.1", port: 9 });
};
