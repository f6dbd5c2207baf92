-- wrk's request: the demo build, posted as JSON.
wrk.method = "POST"
wrk.headers["Content-Type"] = "application/json"
local file = io.open(os.getenv("LOAD_BODY"), "r")
wrk.body = file:read("*a")
file:close()
